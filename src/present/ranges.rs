//! Texts that differ in their numbers only, told as one text with ranges.

/// A stretch of a text: words, or a number.
#[derive(Clone, Copy, PartialEq)]
enum Part<'a> {
    Words(&'a str),
    Number(&'a str),
}

impl<'a> Part<'a> {
    /// Returns the words, and nothing for a number: what makes two texts alike.
    fn words(self) -> Option<&'a str> {
        match self {
            Part::Words(words) => Some(words),
            Part::Number(_) => None,
        }
    }
}

/// Splits a text at its numbers; digits within a word, such as in `S-0001/1-02` or `W90`, are no numbers.
fn split(text: &str) -> impl Iterator<Item = Part<'_>> {
    text.split_inclusive(' ').flat_map(|word| {
        let digits = word.bytes().take_while(|byte| byte.is_ascii_digit() || *byte == b'.').count();
        let digits = word[..digits].trim_end_matches('.').len();
        let (number, rest) = word.split_at(digits);
        let is_number = digits > 0
            && number.bytes().filter(|byte| *byte == b'.').count() <= 1
            && rest.trim_end_matches([' ', ',', ';', ')', ':']).is_empty();
        let parts = if is_number {
            [Some(Part::Number(number)), Some(Part::Words(rest))]
        } else {
            [Some(Part::Words(word)), None]
        };
        parts.into_iter().flatten()
    })
}

/// Tells whether two texts are the same but for their numbers.
pub fn differ_in_numbers_only(one: &str, other: &str) -> bool {
    split(one).map(Part::words).eq(split(other).map(Part::words))
}

/// Returns texts that differ in their numbers only as one text, each number as its range where they differ.
///
/// `texts`: at least one, or the result is empty; all alike by [`differ_in_numbers_only`].
pub fn ranged(texts: &[&str]) -> String {
    let Some((first, others)) = texts.split_first() else { return String::new() };
    let others: Vec<Vec<Part<'_>>> = others.iter().map(|text| split(text).collect()).collect();
    let mut merged = String::new();
    for (place, part) in split(first).enumerate() {
        match part {
            Part::Words(words) => merged.push_str(words),
            Part::Number(number) => {
                let mut all = vec![number];
                all.extend(others.iter().filter_map(|parts| match parts.get(place) {
                    Some(Part::Number(other)) => Some(*other),
                    _ => None,
                }));
                let value = |number: &&str| number.parse::<f64>().unwrap_or(0.0);
                all.sort_by(|a, b| value(a).total_cmp(&value(b)));
                match (all.first(), all.last()) {
                    (Some(least), Some(greatest)) if least != greatest => {
                        merged.push_str(&format!("{least} to {greatest}"));
                    }
                    _ => merged.push_str(number),
                }
            }
        }
    }
    merged
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_become_ranges_and_words_stay() {
        let texts = [
            "under 0.30 mm, up to 52 % (Silver 958), 544.44 EUR of S-0001/1-02",
            "under 0.28 mm, up to 55 % (Silver 958), 373.60 EUR of S-0001/1-02",
        ];
        assert!(differ_in_numbers_only(texts[0], texts[1]));
        assert_eq!(
            ranged(&texts),
            "under 0.28 to 0.30 mm, up to 52 to 55 % (Silver 958), 373.60 to 544.44 EUR of S-0001/1-02"
        );
        assert_eq!(ranged(&texts[..1]), texts[0]);
        assert_eq!(ranged(&[]), "");
    }

    #[test]
    fn another_piece_or_material_is_no_number() {
        assert!(!differ_in_numbers_only("serial of `S-0001/1-02` too", "serial of `S-0001/1-03` too"));
        assert!(!differ_in_numbers_only("W-Cu (W70-W90)", "W-Cu (W70-W80)"));
        assert!(!differ_in_numbers_only("1.2.3 a", "1.2.4 a"));
        assert!(differ_in_numbers_only("9.5, then", "10, then"));
    }
}
