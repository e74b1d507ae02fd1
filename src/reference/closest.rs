//! Ids that come closest to a misspelled one.

/// Returns at most `most` candidates that a person may have meant, the closest first.
///
/// A candidate counts when the typed text is part of it, or when at most a third of the typed characters (and at
/// least two) would have to be changed, added, dropped or swapped with a neighbour. Case does not count. Equally close
/// candidates keep their order.
///
/// # Source
/// The distance is the optimal string alignment variant of the Damerau-Levenshtein distance (from memory).
pub fn closest<'a>(typed: &str, candidates: impl Iterator<Item = &'a str>, most: usize) -> Vec<&'a str> {
    let typed: Vec<char> = typed.trim().to_lowercase().chars().collect();
    if typed.is_empty() {
        return Vec::new();
    }
    let limit = (typed.len() / 3).max(2);
    let wanted: String = typed.iter().collect();
    let mut ranked: Vec<(usize, &str)> = candidates
        .filter_map(|candidate| {
            let lower = candidate.to_lowercase();
            let distance = distance(&typed, &lower.chars().collect::<Vec<_>>());
            let part = typed.len() >= 3 && lower.contains(&wanted);
            (distance <= limit || part).then_some((distance, candidate))
        })
        .collect();
    ranked.sort_by_key(|(distance, _)| *distance);
    ranked.into_iter().take(most).map(|(_, candidate)| candidate).collect()
}

/// Counts the single-character edits, swaps of neighbours included, between two texts.
fn distance(a: &[char], b: &[char]) -> usize {
    let mut before_last: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, &left) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, &right) in b.iter().enumerate() {
            let replaced = last[j] + usize::from(left != right);
            let mut best = replaced.min(last[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && left == b[j - 1] && a[i - 1] == right {
                best = best.min(before_last[j - 1] + 1);
            }
            row.push(best);
        }
        before_last = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(typed: &str, expected: &[&str]) {
        let ids = ["us-5112-a7", "us-5112-a8", "lmu-gold-20", "bar-gold-9999-100g", "Au9167Cu"];
        assert_eq!(closest(typed, ids.into_iter(), 2), expected);
    }

    #[test]
    fn a_swapped_or_dropped_character_finds_the_id() {
        check("us-5121-a7", &["us-5112-a7", "us-5112-a8"]);
        check("lmu-gold20", &["lmu-gold-20"]);
        check("au9167cu", &["Au9167Cu"]);
    }

    #[test]
    fn a_part_of_an_id_finds_it_and_nonsense_finds_nothing() {
        check("9999", &["bar-gold-9999-100g"]);
        check("zzzzzz", &[]);
        check("", &[]);
    }

    #[test]
    fn the_distance_counts_a_swap_as_one_edit() {
        let chars = |text: &str| text.chars().collect::<Vec<_>>();
        assert_eq!(distance(&chars("kitten"), &chars("sitting")), 3);
        assert_eq!(distance(&chars("ab"), &chars("ba")), 1);
        assert_eq!(distance(&chars(""), &chars("abc")), 3);
    }
}
