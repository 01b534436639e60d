//! Counts as they are kept and compared.

/// How far a count may move, of what was recorded.
const MOST: f64 = 0.03;

/// Instructions of each bench, and what counted them.
#[derive(Debug, PartialEq, Eq)]
pub struct Counts {
    /// Compiler, valgrind and C library, in a line.
    pub tools: String,
    /// By the bench's name.
    pub counts: Vec<(String, u64)>,
}

impl Counts {
    /// From the file's text.
    ///
    /// # Errors
    /// Names the line that is none.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut tools = String::new();
        let mut counts = Vec::new();
        for line in text.lines() {
            if let Some(words) = line.strip_prefix("# By: ") {
                tools = words.to_owned();
            }
            if line.starts_with('#') || line.is_empty() {
                continue;
            }
            let pair = line.split_once(' ');
            let (name, count) = pair
                .and_then(|(name, count)| Some((name.to_owned(), count.parse().ok()?)))
                .ok_or_else(|| format!("'{line}' is no bench and its count"))?;
            counts.push((name, count));
        }
        Ok(Self { tools, counts })
    }

    /// The file's text.
    pub fn text(&self) -> String {
        let mut text = format!(
            "# Instructions that the benches beside this file take, counted by callgrind.\n\
             # A count that moves by more than {:.0} % fails `cargo xtask test`; written by\n\
             # `cargo xtask bench --record`.\n\
             # By: {}\n",
            100.0 * MOST,
            self.tools
        );
        for (name, count) in &self.counts {
            text.push_str(&format!("{name} {count}\n"));
        }
        text
    }

    fn of(&self, name: &str) -> Option<u64> {
        let mut counts = self.counts.iter();
        counts
            .find(|(known, _)| known == name)
            .map(|(_, count)| *count)
    }

    /// Change of a bench that both know, of what was recorded.
    fn change(&self, name: &str, found: u64) -> Option<f64> {
        let recorded = self.of(name)?;
        Some(found as f64 / recorded as f64 - 1.0)
    }

    /// What was found beside what was recorded.
    pub fn table(&self, found: &Self) -> String {
        let line = |(name, count): &(String, u64)| {
            let change = self.change(name, *count);
            let change = change.map_or("new".to_owned(), |change| {
                format!("{:+.2} %", 100.0 * change)
            });
            format!("{name:24} {count:>12} instructions {change:>9}")
        };
        let lines: Vec<String> = found.counts.iter().map(line).collect();
        lines.join("\n")
    }

    /// Whether every count found is near the one recorded. One that has fallen must be recorded too,
    /// or it could rise again unseen.
    ///
    /// # Errors
    /// Says which have moved, and whether other tools may be why.
    pub fn compare(&self, found: &Self) -> Result<(), String> {
        let mut moved = Vec::new();
        for (name, count) in &found.counts {
            match self.change(name, *count) {
                None => moved.push(format!("{name} is new")),
                Some(change) if change.abs() > MOST => {
                    let way = if change > 0.0 { "more" } else { "fewer" };
                    moved.push(format!(
                        "{name} takes {:.1} % {way} instructions than recorded ({count}, not {}; \
                         {:.0} % are allowed)",
                        100.0 * change.abs(),
                        self.of(name).unwrap_or_default(),
                        100.0 * MOST
                    ));
                }
                Some(_) => {}
            }
        }
        let gone = self
            .counts
            .iter()
            .filter(|(name, _)| found.of(name).is_none());
        moved.extend(gone.map(|(name, _)| format!("{name} is not counted any more")));
        if moved.is_empty() {
            return Ok(());
        }
        if self.tools != found.tools {
            moved.push(format!(
                "recorded by {}, counted by {}: other tools count otherwise",
                self.tools, found.tools
            ));
        }
        Err(moved.join("; "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counts(tools: &str, counts: &[(&str, u64)]) -> Counts {
        Counts {
            tools: tools.to_owned(),
            counts: counts
                .iter()
                .map(|(name, count)| ((*name).to_owned(), *count))
                .collect(),
        }
    }

    #[test]
    fn what_is_written_is_read() {
        let kept = counts("rustc 1", &[("a", 1000), ("b", 3)]);
        assert_eq!(Counts::parse(&kept.text()), Ok(kept));
        assert!(Counts::parse("a many").is_err());
    }

    #[test]
    fn three_percent_either_way_pass_and_more_do_not() {
        let kept = counts("rustc 1", &[("a", 1000)]);
        for near in [971, 1000, 1029] {
            assert_eq!(kept.compare(&counts("rustc 1", &[("a", near)])), Ok(()));
        }
        let said = |found| kept.compare(&found).expect_err("too far");
        let more = said(counts("rustc 1", &[("a", 1031)]));
        assert!(
            more.contains("3.1 % more") && !more.contains("tools"),
            "{more}"
        );
        let fewer = said(counts("rustc 2", &[("a", 969)]));
        assert!(
            fewer.contains("3.1 % fewer") && fewer.contains("rustc 2"),
            "{fewer}"
        );
    }

    #[test]
    fn names_must_be_the_same() {
        let kept = counts("rustc 1", &[("a", 1000)]);
        let other = kept.compare(&counts("rustc 1", &[("b", 1000)]));
        let other = other.expect_err("another bench");
        assert!(
            other.contains("b is new") && other.contains("a is not"),
            "{other}"
        );
    }
}
