//! Where words stand that would otherwise lie upon one another, or upon a line.

/// How near a line's middle the middle of a word may be: half of both.
const CLEAR: f64 = 6.5;

/// How far from its place a word may stand, in distances between two.
const FAR: f64 = 1.2;

/// Places for words at ascending heights, apart from one another and clear of lines at `taken` heights: a
/// word stays on its side of a line while there is room.
pub(super) fn place_words(heights: &[f64], apart: f64, taken: &[f64], ends: [f64; 2]) -> Vec<f64> {
    let zones = zones(taken, ends);
    let room = |[from, to]: [f64; 2]| {
        if to < from {
            0
        } else {
            ((to - from) / apart) as usize + 1
        }
    };
    let rooms: Vec<usize> = zones.iter().map(|zone| room(*zone)).collect();
    let away = |zone: &[f64; 2], y: f64| (zone[0] - y).max(y - zone[1]).max(0.0);
    let mut crowds = vec![0_usize; zones.len()];
    let mut at_least = 0;
    for y in heights {
        let usable = (at_least..zones.len()).filter(|n| rooms[*n] > 0);
        let nearest = usable.min_by(|a, b| away(&zones[*a], *y).total_cmp(&away(&zones[*b], *y)));
        at_least = nearest.unwrap_or(at_least);
        crowds[at_least] += 1;
    }
    give_way(&mut crowds, &rooms);
    let (mut places, mut from) = (Vec::new(), 0);
    for ([low, high], crowd) in zones.into_iter().zip(crowds) {
        places.extend(spread(&heights[from..from + crowd], apart, low, high));
        from += crowd;
    }
    places
}

/// Words of which those that would stand too far from their places are left out: what ranks 0 always stands,
/// then the lower ranks come first. Heights ascend; one place or none for each.
pub(super) fn thin_words(
    words: &[(f64, u8)],
    apart: f64,
    taken: &[f64],
    ends: [f64; 2],
) -> Vec<Option<f64>> {
    let place = |kept: &[bool]| {
        let heights = words.iter().zip(kept).filter(|(_, kept)| **kept);
        let heights: Vec<f64> = heights.map(|((y, _), _)| *y).collect();
        let mut places = place_words(&heights, apart, taken, ends).into_iter();
        let each = kept.iter();
        each.map(|kept| if *kept { places.next() } else { None })
            .collect::<Vec<_>>()
    };
    let mut kept: Vec<bool> = words.iter().map(|(_, rank)| *rank == 0).collect();
    let away = |n: usize, places: &[Option<f64>]| {
        let place = places.get(n).copied().flatten();
        place.map_or(0.0, |place: f64| (place - words[n].0).abs())
    };
    let alone = place(&kept);
    let most: Vec<f64> = (0..words.len())
        .map(|n| away(n, &alone).max(FAR * apart))
        .collect();
    let mut by_rank: Vec<usize> = (0..words.len()).filter(|n| !kept[*n]).collect();
    by_rank.sort_by_key(|n| words[*n].1);
    for n in by_rank {
        kept[n] = true;
        let places = place(&kept);
        let is_near = (0..words.len()).all(|n| away(n, &places) <= most[n] + 1e-9);
        kept[n] = is_near;
    }
    place(&kept)
}

/// What lies between the lines.
fn zones(taken: &[f64], [top, bottom]: [f64; 2]) -> Vec<[f64; 2]> {
    let mut lines = taken.to_vec();
    lines.sort_by(f64::total_cmp);
    let mut zones = Vec::new();
    let mut from = top;
    for line in lines {
        zones.push([from, line - CLEAR]);
        from = line + CLEAR;
    }
    zones.push([from, bottom]);
    zones
}

/// Words that have no room between two lines go to the nearest zone that has, upwards first.
fn give_way(crowds: &mut [usize], rooms: &[usize]) {
    for n in 0..crowds.len() {
        while crowds[n] > rooms[n] {
            let has_room = |to: &usize| crowds[*to] < rooms[*to];
            let up = (0..n).rev().find(has_room);
            let Some(to) = up.or_else(|| (n + 1..crowds.len()).find(has_room)) else {
                return;
            };
            // Everything between moves on by one, so that the order stays.
            crowds[n] -= 1;
            crowds[to] += 1;
        }
    }
}

/// Moves ascending places apart to a distance, as little as can be: a crowd stands around its middle,
/// within top and bottom.
fn spread(places: &[f64], apart: f64, top: f64, bottom: f64) -> Vec<f64> {
    // Crowds: the middle of the first that each would want, and how many they are.
    let mut crowds: Vec<(f64, usize)> = Vec::new();
    for place in places {
        let mut crowd = (*place, 1);
        while let Some((middle, count)) = crowds.pop() {
            let half = |count: usize| 0.5 * apart * (count - 1) as f64;
            let touches = middle + half(count) + apart > crowd.0 - half(crowd.1);
            if !touches {
                crowds.push((middle, count));
                break;
            }
            let all = (count + crowd.1) as f64;
            crowd = (
                (middle * count as f64 + crowd.0 * crowd.1 as f64) / all,
                count + crowd.1,
            );
        }
        let half = 0.5 * apart * (crowd.1 - 1) as f64;
        crowd.0 = crowd.0.min(bottom - half).max(top + half);
        crowds.push(crowd);
    }
    let ends = crowds.iter().flat_map(|(middle, count)| {
        let first = middle - 0.5 * apart * (count - 1) as f64;
        (0..*count).map(move |n| first + apart * n as f64)
    });
    // Where the edge pushed a crowd, the one before it gives way.
    let mut places: Vec<f64> = ends.collect();
    for n in (1..places.len()).rev() {
        places[n - 1] = places[n - 1].min(places[n] - apart);
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crowds_stand_around_their_middle_and_never_touch() {
        assert_eq!(
            spread(&[50.0, 52.0, 54.0], 10.0, 0.0, 100.0),
            [42.0, 52.0, 62.0]
        );
        assert_eq!(spread(&[10.0, 40.0], 10.0, 0.0, 100.0), [10.0, 40.0]);
        assert_eq!(spread(&[1.0, 2.0], 10.0, 0.0, 100.0), [0.0, 10.0]);
        let edge = spread(&[80.0, 99.0, 99.0, 99.0], 10.0, 0.0, 100.0);
        assert!(
            edge.windows(2).all(|pair| pair[1] - pair[0] > 10.0 - 1e-9),
            "{edge:?}"
        );
        assert!(edge[3] <= 100.0, "{edge:?}");
    }

    #[test]
    fn a_crowd_is_thinned_from_its_lowest_rank_and_rank_0_stands() {
        let thin = |words: &[(f64, u8)], taken: &[f64]| {
            let places = thin_words(words, 10.0, taken, [0.0, 100.0]);
            places.iter().map(Option::is_some).collect::<Vec<_>>()
        };
        // Three stand one distance from their places at most, four do not.
        assert_eq!(thin(&[(50.0, 1), (50.0, 2), (50.0, 3)], &[]), [true; 3]);
        let four = [(50.0, 3), (50.0, 2), (50.0, 0), (50.0, 4)];
        assert_eq!(thin(&four, &[]), [true, true, true, false]);
        // A word that lines drive far away stands there only when it must.
        let walls = [40.0, 50.0, 60.0];
        assert_eq!(thin(&[(50.0, 1)], &walls), [false]);
        assert_eq!(thin(&[(50.0, 0)], &walls), [true]);
        assert_eq!(thin(&[], &[]), Vec::<bool>::new());
    }

    #[test]
    fn words_keep_clear_of_lines_on_their_own_side() {
        let placed =
            |heights: &[f64], taken: &[f64]| place_words(heights, 10.0, taken, [0.0, 100.0]);
        assert_eq!(placed(&[50.0], &[]), [50.0]);
        assert_eq!(placed(&[49.0], &[50.0]), [43.5]);
        assert_eq!(placed(&[51.0], &[50.0]), [56.5]);
        // No room between two lines.
        let found = placed(&[30.0, 55.0, 70.0], &[50.0, 60.0]);
        assert_eq!(found, [30.0, 43.5, 70.0]);
        let lines = [40.0, 52.0, 64.0];
        let found = placed(&[38.0, 41.0, 50.0, 52.0, 63.0, 66.0], &lines);
        assert_eq!(found.len(), 6);
        assert!(
            found.windows(2).all(|pair| pair[1] - pair[0] > 9.99),
            "{found:?}"
        );
        let clear = |y: &f64| lines.iter().all(|line| (line - y).abs() >= CLEAR - 1e-9);
        assert!(found.iter().all(clear), "{found:?}");
        // Where nothing is clear, they still do not lie upon one another.
        let walls: Vec<f64> = (0..11).map(|n| 10.0 * f64::from(n)).collect();
        assert_eq!(placed(&[20.0, 21.0], &walls).len(), 2);
    }
}
