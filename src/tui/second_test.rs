//! The forms of the second tests: which rows each method has, what a typed text means, and the test that comes out.

use super::dialog::{Form, FormRow, RowKind};
use super::state::Facts;
use crate::desk::screen::Units;
use crate::evidence::{
    AssaySample, AssayTest, ConductivityTest, Content, Element, ExpertTest, Finding, ImmersionTest,
    InterfaceEcho, MagnetTest, MassShare, Measurand, Observation, RingTest, RingingBody, SecondTest, Sound,
    StrongMagnet, TakeOff, TravelTime, UltrasoundTest, UnderWater, XRayTest,
};
use crate::quantity::entry::{EntryError, parse, parse_in};
use crate::quantity::{
    Conductivity, Entry, Fineness, Frequency, Length, Mass, Quantity, Temperature, Unit, Velocity,
};
use crate::scoring::Method;

/// What the text of a row is to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reads {
    /// A mass.
    Mass,
    /// A temperature.
    Temperature,
    /// A length.
    Length,
    /// A travel time of sound.
    TravelTime,
    /// A velocity of sound.
    Velocity,
    /// A frequency, or the path of a recording to take it from.
    Ring,
    /// A fineness.
    Fineness,
    /// A standard uncertainty of a fineness.
    FinenessUncertainty,
    /// Elements with their shares.
    Composition,
    /// An angle in whole degrees.
    TakeOff,
    /// Conductivities, one a spot.
    Conductivities,
}

/// What a text means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Meaning {
    /// The value in its stored unit.
    Value(String),
    /// The path of a recording.
    Recording(String),
}

/// Returns a value in a unit with the decimals that were typed.
fn stored_in<Q: Quantity>(entry: &Entry<Q>, unit: &Unit) -> String {
    let step = entry.step as f64 * unit.denominator as f64 / unit.numerator as f64;
    let decimals = (-step.log10() - 1e-9).ceil().clamp(0.0, 6.0) as u32;
    format!("{} {}", entry.value.digits_in(unit, decimals), unit.symbol)
}

/// Tells whether a text is the path of a recording and not a number.
fn is_recording(text: &str) -> bool {
    text.to_lowercase().ends_with(".wav")
}

impl Reads {
    /// Says what a text means.
    ///
    /// # Errors
    /// Why it is not what the row takes, found and allowed named.
    pub fn understand(self, text: &str, units: &Units) -> Result<Meaning, String> {
        fn one<Q: Quantity>(text: &str) -> Result<String, String> {
            one_in::<Q>(text, &Q::UNITS[0])
        }
        fn one_in<Q: Quantity>(text: &str, unit: &'static Unit) -> Result<String, String> {
            let read = parse_in::<Q>(text, unit).map(|entry| stored_in(&entry, unit));
            read.map_err(|error: EntryError| error.to_string())
        }
        let value = match self {
            Reads::Mass => one_in::<Mass>(text, units.mass)?,
            Reads::Temperature => one::<Temperature>(text)?,
            Reads::Length => one_in::<Length>(text, units.length)?,
            Reads::TravelTime => one::<TravelTime>(text)?,
            Reads::Velocity => one::<Velocity>(text)?,
            Reads::Ring if is_recording(text) => return Ok(Meaning::Recording(text.trim().to_owned())),
            Reads::Ring => one::<Frequency>(text)?,
            Reads::Fineness => one::<Fineness>(text)?,
            Reads::FinenessUncertainty => stored_in(&fineness_uncertainty(text)?, &MassShare::UNITS[1]),
            Reads::Composition => {
                let contents = composition(text)?;
                let sum: f64 = contents.iter().map(|content| content.share.value.as_percent()).sum();
                let words: Vec<String> = contents
                    .iter()
                    .map(|content| format!("{} {:.2} %", content.element, content.share.value.as_percent()))
                    .collect();
                format!("{}; together {sum:.1} %", words.join(", "))
            }
            Reads::TakeOff => format!("{}°", take_off(text)?.0),
            Reads::Conductivities => {
                let unit = units.conductivity;
                let spots = conductivities(&self.kept(text, units))?;
                spots.iter().map(|spot| stored_in(spot, unit)).collect::<Vec<_>>().join(", ")
            }
        };
        Ok(Meaning::Value(value))
    }
}

impl Reads {
    /// Returns the unit of a bare number, where the desk chose another than the stored one.
    pub fn other_unit(self, units: &Units) -> Option<&'static Unit> {
        units.other_than_stored(match self {
            Reads::Mass => Measurand::Mass,
            Reads::Length => Measurand::Length,
            Reads::Conductivities => Measurand::Conductivity,
            _ => return None,
        })
    }

    /// Returns a typed text as it is handed on: with their unit behind bare numbers that are understood in another unit than
    /// the stored one.
    pub fn kept(self, text: &str, units: &Units) -> String {
        if self.other_unit(units).is_none() {
            return text.to_owned();
        }
        match self {
            Reads::Mass => units.kept(Measurand::Mass, text),
            Reads::Length => units.kept(Measurand::Length, text),
            _ => {
                let spots = spots(text).into_iter().map(|spot| units.kept(Measurand::Conductivity, &spot));
                spots.collect::<Vec<_>>().join(" ")
            }
        }
    }
}

/// Reads an uncertainty of a fineness, in ‰ unless a unit says otherwise; it may be smaller than any fineness.
fn fineness_uncertainty(text: &str) -> Result<Entry<MassShare>, String> {
    parse_in::<MassShare>(text, &MassShare::UNITS[1]).map_err(|error| error.to_string())
}

/// Reads `Au 91.6 Ag 4.2`: each element with its share in percent, unless a unit says otherwise.
fn composition(text: &str) -> Result<Vec<Content>, String> {
    let example = "composition is written as `Au 91.6 Ag 4.2 Cu 4.2`: each element with its share";
    let mut found: Vec<(Element, String)> = Vec::new();
    for word in text.split([' ', ';', '\t']).filter(|word| !word.is_empty()) {
        let is_element = word.chars().all(|c| c.is_ascii_alphabetic()) && word.len() <= 2;
        match (is_element, found.last_mut()) {
            (true, _) => {
                found.push((Element::parse(word).map_err(|error| error.to_string())?, String::new()))
            }
            (false, Some((_, share))) => {
                share.push_str(word.strip_suffix(',').unwrap_or(word));
            }
            (false, None) => return Err(format!("{example}, found `{word}` first")),
        }
    }
    if found.is_empty() {
        return Err(format!("{example}, found nothing"));
    }
    let mut contents: Vec<Content> = Vec::new();
    for (element, share) in found {
        if share.is_empty() {
            return Err(format!("{example}; `{element}` has no share"));
        }
        if contents.iter().any(|known| known.element == element) {
            return Err(format!("`{element}` is named twice"));
        }
        let entry = parse::<MassShare>(&share).map_err(|error| format!("`{element}`: {error}"))?;
        contents.push(Content { element, share: Observation::of(&entry) });
    }
    let sum: f64 = contents.iter().map(|content| content.share.value.as_percent()).sum();
    // Displays round each share by itself, so a little more than the whole is no slip of the keyboard.
    if sum > 101.0 {
        return Err(format!("the shares add up to {sum:.1} %, allowed is at most 101 %"));
    }
    Ok(contents)
}

/// Reads an angle; the bare number comes with it, to be shown.
fn take_off(text: &str) -> Result<(u8, TakeOff), String> {
    let typed = text.trim().trim_end_matches(['°', ' ']);
    let degrees: u8 = typed
        .parse()
        .map_err(|_| format!("take-off angle `{}` is not a whole number from 1 to 90", text.trim()))?;
    let angle = TakeOff::from_degrees(degrees).map_err(|error| error.to_string())?;
    Ok((degrees, angle))
}

/// Reads conductivities, one a spot, divided by blanks or semicolons; a unit may stand behind each.
fn conductivities(text: &str) -> Result<Vec<Entry<Conductivity>>, String> {
    spots(text).iter().map(|spot| parse::<Conductivity>(spot).map_err(|error| error.to_string())).collect()
}

/// Divides a text into the values of its spots.
fn spots(text: &str) -> Vec<String> {
    let mut spots: Vec<String> = Vec::new();
    for word in text.split([' ', ';', '\t']).filter(|word| !word.is_empty()) {
        let begins_a_number = word.starts_with(|c: char| c.is_ascii_digit() || "+-.,".contains(c));
        match spots.last_mut() {
            Some(spot) if !begins_a_number => spot.push_str(word),
            _ => spots.push(word.to_owned()),
        }
    }
    if spots.is_empty() {
        spots.push(String::new());
    }
    spots
}

/// Makes a row of a value.
fn value(label: &'static str, hint: &str, reads: Reads) -> FormRow {
    FormRow::new(label, hint, RowKind::Value { reads, optional: false, echo: None })
}

/// Makes a row of a value that may be left empty.
fn optional(label: &'static str, hint: &str, reads: Reads) -> FormRow {
    FormRow::new(label, hint, RowKind::Value { reads, optional: true, echo: None })
}

/// Makes a row of a few words.
fn options(label: &'static str, words: &[&str]) -> FormRow {
    let options = words.iter().map(|&word| word.to_owned()).collect();
    FormRow::new(label, "arrows choose", RowKind::Options { options, selected: 0 })
}

/// Returns the rows of the form of a method; none for a method that only corrects what was recorded before.
pub fn rows(method: Method, facts: &Facts) -> Vec<FormRow> {
    match method {
        Method::Immersion => vec![
            value("in air", "what the balance shows, tared", Reads::Mass),
            options("hung from", &["the balance: its own reading", "a stand, into a beaker on the pan"]),
            value("under water", "what the balance shows, tared before; no bubbles", Reads::Mass),
            value("water", "temperature of the water", Reads::Temperature),
        ],
        Method::Ultrasound => vec![
            value("calliper", "thickness where the probe stood", Reads::Length),
            options("gauge shows", &["the time there and back", "a thickness at a velocity set"]),
            value("time", "there and back, in us", Reads::TravelTime).only(1, 0),
            value("set to", "the velocity that the gauge is set to, in m/s", Reads::Velocity).only(1, 1),
            value("shown", "the thickness that the gauge shows", Reads::Length).only(1, 1),
            options("inner echo", &["nobody looked", "none over the whole face", "seen", "seen at a depth"]),
            value("its depth", "depth of the inner echo", Reads::Length).only(5, 3),
            options("measured", &["at one spot", "swept over the face: what differs most"]),
        ],
        Method::Ring => vec![
            value(
                "ring",
                "lowest frequency of the free piece in Hz, or the path of a .wav recording",
                Reads::Ring,
            ),
            optional(
                "exemplar",
                "the same of a piece of this product that is known; frequency or recording, or empty",
                Reads::Ring,
            ),
            options("piece is", &["a struck coin", "a flat disc of its measured thickness"]),
        ],
        Method::XRay => vec![
            value(
                "composition",
                "Au 91.6 Ag 4.2 Cu 4.2: elements with their shares in percent",
                Reads::Composition,
            ),
            optional(
                "take-off",
                "take-off angle in whole degrees; empty when nobody knows it",
                Reads::TakeOff,
            ),
        ],
        Method::Magnet => {
            vec![options("it was", &["not attracted", "attracted", "not attracted, and slid down slowly"])]
        }
        Method::Assay => vec![
            value("fineness", "as the laboratory states it, in permille", Reads::Fineness),
            optional(
                "uncertainty",
                "standard uncertainty in permille, half of a stated U (k = 2); empty when none is stated",
                Reads::FinenessUncertainty,
            ),
            FormRow::new("laboratory", "who made it", RowKind::Text),
            FormRow::new("document", "number or name of its document", RowKind::Text),
            options("taken from", &["the surface", "drilled through the middle", "the whole piece, melted"]),
        ],
        Method::Expert => vec![
            FormRow::new("who", "who examined it", RowKind::Text),
            FormRow::new("document", "number or name of the document", RowKind::Text),
            options("finding", &["cannot tell", "it agrees with the declaration", "it does not agree"]),
        ],
        Method::Conductivity => {
            let names: Vec<String> =
                facts.probes.iter().map(|probe| format!("{}, {}", probe.name, probe.text)).collect();
            let kind = RowKind::Options { options: names, selected: 0 };
            vec![
                FormRow::new("probe", "arrows choose", kind),
                value("readings", "one a spot, divided by blanks: 10.2 10.3 10.2", Reads::Conductivities),
                optional(
                    "temperature",
                    "of the piece; empty takes the one of the first readings",
                    Reads::Temperature,
                ),
            ]
        }
        Method::Reweigh | Method::Remeasure | Method::Correction => Vec::new(),
    }
}

/// Why a filled form is no second test: the place of the row, and found and allowed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unfit {
    /// Place of the row.
    pub row: usize,
    /// What is wrong.
    pub message: String,
}

/// Reads the rows of a form.
struct Rows<'a>(&'a Form);

impl Rows<'_> {
    fn text(&self, row: usize) -> &str {
        self.0.rows.get(row).map_or("", |row| row.input.value().trim())
    }

    fn chosen(&self, row: usize) -> usize {
        match self.0.rows.get(row).map(|row| &row.kind) {
            Some(RowKind::Options { selected, .. }) => *selected,
            _ => 0,
        }
    }

    fn one<Q: Quantity>(&self, row: usize) -> Result<Observation<Q>, Unfit> {
        let entry = parse::<Q>(self.text(row)).map_err(|error| Unfit { row, message: error.to_string() })?;
        Ok(Observation::of(&entry))
    }

    fn maybe<Q: Quantity>(&self, row: usize) -> Result<Option<Observation<Q>>, Unfit> {
        if self.text(row).is_empty() { Ok(None) } else { self.one(row).map(Some) }
    }

    /// Returns a frequency; one that was taken from a recording brings its uncertainty.
    fn ring(&self, row: usize) -> Result<Observation<Frequency>, Unfit> {
        let text = self.text(row);
        if is_recording(text) {
            let message = format!("recording `{text}` has not been read; press Enter on its row");
            return Err(Unfit { row, message });
        }
        let heard = self.0.heard.iter().rev().find(|heard| heard.row == row && heard.text == text);
        Ok(self.one::<Frequency>(row)?.with_stated(heard.map(|heard| heard.uncertainty)))
    }
}

/// Makes the second test of a filled form.
///
/// # Errors
/// The first row that does not fit, and why.
pub fn build(method: Method, form: &Form, facts: &Facts) -> Result<SecondTest, Unfit> {
    let rows = Rows(form);
    let unfit = |row: usize| move |message: String| Unfit { row, message };
    Ok(match method {
        Method::Immersion => {
            let wet = rows.one(2)?;
            SecondTest::Immersion(ImmersionTest {
                in_air: rows.one(0)?,
                under_water: if rows.chosen(1) == 0 {
                    UnderWater::Suspended(wet)
                } else {
                    UnderWater::Beaker(wet)
                },
                water: rows.one(3)?,
            })
        }
        Method::Ultrasound => SecondTest::Ultrasound(UltrasoundTest {
            thickness: rows.one(0)?,
            sound: if rows.chosen(1) == 0 {
                Sound::TimeOfFlight(rows.one(2)?)
            } else {
                Sound::Gauge { set_to: rows.one::<Velocity>(3)?.value, shown: rows.one(4)? }
            },
            echo: match rows.chosen(5) {
                0 => InterfaceEcho::NotLooked,
                1 => InterfaceEcho::NotSeen,
                2 => InterfaceEcho::Seen,
                _ => InterfaceEcho::AtDepth(rows.one(6)?),
            },
            swept: rows.chosen(7) == 1,
        }),
        Method::Ring => SecondTest::Ring(RingTest {
            frequency: rows.ring(0)?,
            exemplar: if rows.text(1).is_empty() { None } else { Some(rows.ring(1)?) },
            body: if rows.chosen(2) == 0 { RingingBody::Struck } else { RingingBody::Flat },
        }),
        Method::XRay => {
            let angle = rows.text(1);
            let take_off = if angle.is_empty() { None } else { Some(take_off(angle).map_err(unfit(1))?.1) };
            SecondTest::XRay(XRayTest { composition: composition(rows.text(0)).map_err(unfit(0))?, take_off })
        }
        Method::Magnet => SecondTest::Magnet(MagnetTest {
            response: match rows.chosen(0) {
                0 => StrongMagnet::None,
                1 => StrongMagnet::Attracted,
                _ => StrongMagnet::SlidSlow,
            },
        }),
        Method::Assay => {
            let stated = match rows.text(1) {
                "" => None,
                text => Some(Fineness::from_base(fineness_uncertainty(text).map_err(unfit(1))?.value.base())),
            };
            SecondTest::Assay(AssayTest {
                fineness: rows.one::<Fineness>(0)?.with_stated(stated),
                laboratory: rows.text(2).to_owned(),
                document: rows.text(3).to_owned(),
                sample: match rows.chosen(4) {
                    0 => AssaySample::Surface,
                    1 => AssaySample::ThroughMiddle,
                    _ => AssaySample::Melt,
                },
            })
        }
        Method::Expert => SecondTest::Expert(ExpertTest {
            who: rows.text(0).to_owned(),
            document: rows.text(1).to_owned(),
            finding: match rows.chosen(2) {
                0 => Finding::CannotTell,
                1 => Finding::Agrees,
                _ => Finding::Disagrees,
            },
        }),
        Method::Conductivity => {
            let probe = facts.probes.get(rows.chosen(0)).map(|line| line.probe.clone());
            let readings = conductivities(rows.text(1)).map_err(unfit(1))?;
            SecondTest::Conductivity(ConductivityTest {
                probe: probe.ok_or_else(|| unfit(0)("the desk has no probe".to_owned()))?,
                readings: readings.iter().map(Observation::of).collect(),
                temperature: rows.maybe(2)?,
            })
        }
        Method::Reweigh | Method::Remeasure | Method::Correction => {
            let message =
                format!("`{}` corrects what was recorded before; it is no second test", method.label());
            return Err(Unfit { row: 0, message });
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(reads: Reads, text: &str, stored: &str) {
        assert_eq!(
            reads.understand(text, &Units::default()),
            Ok(Meaning::Value(stored.to_owned())),
            "{text}"
        );
    }

    #[test]
    fn a_value_is_echoed_in_its_stored_unit_with_its_digits() {
        check(Reads::Mass, "31,10", "31.10 g");
        // NIST Special Publication 811 (2008), Appendix B.8: a troy ounce is 31.103 476 8 g, an inch 25.4 mm.
        check(Reads::Mass, "1 ozt", "31 g");
        check(Reads::Length, "0.100 in", "2.54 mm");
        check(Reads::TravelTime, "850 ns", "0.850 us");
        check(Reads::Ring, "5.102 kHz", "5102 Hz");
        check(Reads::FinenessUncertainty, "0.3", "0.3 permille");
        check(Reads::Conductivities, "10.2 10,3 MS/m 17.6 %IACS", "10.2 MS/m, 10.3 MS/m, 10.21 MS/m");
    }

    #[test]
    fn a_recording_is_told_from_a_frequency_by_its_name() {
        let path = "rings/Coin 7.WAV";
        assert_eq!(Reads::Ring.understand(path, &Units::default()), Ok(Meaning::Recording(path.to_owned())));
        assert!(
            Reads::Ring.understand("5102 kg", &Units::default()).unwrap_err().contains("is not one of `Hz`")
        );
    }

    #[test]
    fn a_composition_names_each_element_once_with_its_share() {
        check(
            Reads::Composition,
            "Au 91.6, Ag 4,2; cu 4.2 %",
            "Au 91.60 %, Ag 4.20 %, Cu 4.20 %; together 100.0 %",
        );
        for (text, said) in [
            ("", "found nothing"),
            ("91.6 Au", "found `91.6` first"),
            ("Au Ag 4", "`Au` has no share"),
            ("Au 60 Au 30", "named twice"),
            ("Au 91.6 W 60", "add up to 151.6 %"),
            ("Au 1e2", "`Au`"),
        ] {
            assert!(
                Reads::Composition.understand(text, &Units::default()).unwrap_err().contains(said),
                "{text}"
            );
        }
    }

    #[test]
    fn an_angle_is_a_whole_number_of_degrees() {
        check(Reads::TakeOff, "60°", "60°");
        for wrong in ["0", "91", "45.5", "x"] {
            assert!(Reads::TakeOff.understand(wrong, &Units::default()).is_err(), "{wrong}");
        }
    }
}
