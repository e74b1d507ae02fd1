//! Which words stay on one line.

/// Units that stay with their number.
const UNITS: [&str; 31] = [
    "g", "kg", "mg", "µg", "ozt", "gr", "mm", "cm", "m", "µm", "nm", "s", "ms", "Hz", "kHz", "MHz", "dB",
    "K", "°C", "%", "‰", "MS/m", "%IACS", "g/cm³", "kg/m³", "g/mm", "mol/kg", "GPa", "MPa", "m/s", "keV",
];
/// Signs that stay with what stands before and after them.
const SIGNS: [&str; 7] = ["=", "±", "×", "≤", "≥", "+", "−"];

/// Returns a text in which numbers stay with their units and signs with both sides, by no-break spaces.
pub(super) fn bound(text: &str) -> String {
    let mut bound = String::with_capacity(text.len());
    let mut before = "";
    for (index, word) in text.split(' ').enumerate() {
        if index > 0 {
            let bare = word.trim_end_matches([',', ';', '.', ')', ':']);
            let number = before.trim_end_matches(')').ends_with(|c: char| c.is_ascii_digit());
            let sign = SIGNS.contains(&bare) || SIGNS.contains(&before);
            let lasting = !before.is_empty() && (sign || (number && UNITS.contains(&bare)));
            bound.push(if lasting { '\u{A0}' } else { ' ' });
        }
        bound.push_str(word);
        before = word;
    }
    bound
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stay_with_their_units_and_signs_with_both_sides() {
        let check = |text: &str, expected: &str| assert_eq!(bound(text).replace('\u{A0}', "_"), expected);
        check("it has (10.31 ± 0.04) g/cm³, k = 2.", "it has (10.31_±_0.04)_g/cm³, k_=_2.");
        check("at 60 kHz does not reach", "at 60_kHz does not reach");
        check("20 mark of 1873 in Bremen", "20 mark of 1873 in Bremen");
        check("two  spaces and - a dash", "two  spaces and - a dash");
    }
}
