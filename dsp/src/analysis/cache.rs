//! What was computed for the last few settings, so that a picture drawn again waits for nothing.

/// Found things by what they were found for, the newest last.
#[derive(Clone, Debug)]
pub struct Cache<K, V> {
    found: Vec<(K, V)>,
}

impl<K, V> Default for Cache<K, V> {
    fn default() -> Self {
        Self { found: Vec::new() }
    }
}

impl<K: PartialEq + Clone, V> Cache<K, V> {
    /// How many are kept.
    const MOST: usize = 16;

    /// What was found for a key, when it has been looked for.
    #[must_use]
    pub fn find(&self, key: &K) -> Option<&V> {
        let same = |(kept, _): &&(K, V)| kept == key;
        self.found.iter().find(same).map(|(_, found)| found)
    }

    /// Keeps what was found, and forgets the oldest.
    pub fn keep(&mut self, key: &K, found: V) {
        self.found.retain(|(kept, _)| kept != key);
        if self.found.len() >= Self::MOST {
            self.found.remove(0);
        }
        self.found.push((key.clone(), found));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_are_kept() {
        let mut cache = Cache::default();
        for key in 0..20 {
            cache.keep(&key, 10 * key);
        }
        cache.keep(&5, 7);
        assert_eq!((cache.find(&19), cache.find(&5)), (Some(&190), Some(&7)));
        assert_eq!((cache.find(&4), cache.find(&3)), (Some(&40), None));
    }
}
