//! The text of a profile, TOML: what may stand in it, and what is wrong with it.

use super::bytes::Ending;
use super::pattern::LinePattern;
use super::profile::{
    DeviceProfile, LineSettings, MarkWords, Parity, Request, Settling, WithoutMark, WithoutUnit, ticked,
};
use super::profile_error::{ProfileError, ProfileMistake};
use crate::evidence::Measurand;
use crate::intake::typed::{self, TypedField};
use crate::quantity::entry::{EntryError, parse};
use crate::quantity::{Quantity, TemperatureDifference, Unit};
use serde::Deserialize;
use std::ops::Range;
use std::path::PathBuf;
use std::time::Duration;
use toml::Spanned;

/// Most characters of a mark.
const LONGEST_MARK: usize = 12;
/// Longest pause between lines in a row when a profile names none, in milliseconds.
const USUAL_PAUSE: u64 = 2000;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    feeds: Spanned<Vec<Spanned<String>>>,
    lines: Spanned<Vec<Spanned<String>>>,
    #[serde(default)]
    words: WordsText,
    value: ValueText,
    stable: Spanned<StableText>,
    keyboard: Option<Spanned<bool>>,
    line: Option<Spanned<LineText>>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct WordsText {
    stable: Vec<Spanned<String>>,
    unstable: Vec<Spanned<String>>,
    overload: Vec<Spanned<String>>,
    under: Vec<Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ValueText {
    unit: Spanned<String>,
    #[serde(default)]
    other_units: Vec<Spanned<String>>,
    without_unit: Option<Spanned<String>>,
    without_mark: Option<Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StableText {
    #[serde(default)]
    every_line: bool,
    lines: Option<Spanned<u64>>,
    spread: Option<Spanned<String>>,
    longest_pause_ms: Option<Spanned<u64>>,
    rearm_below: Option<Spanned<String>>,
    rearm_change: Option<Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LineText {
    port: Option<Spanned<String>>,
    speed: Option<Spanned<u64>>,
    data_bits: Option<Spanned<u64>>,
    parity: Option<Spanned<String>>,
    stop_bits: Option<Spanned<u64>>,
    ending: Option<Spanned<String>>,
    request: Option<Spanned<String>>,
    request_every_ms: Option<Spanned<u64>>,
}

/// A mistake with the bytes it stands at.
type At<T> = Result<T, (Range<usize>, ProfileMistake)>;

impl DeviceProfile {
    /// Reads a profile; `name` is what the screens call the device, `file` what errors call the file.
    ///
    /// # Errors
    /// The first thing that is wrong, with file, line and field.
    pub fn parse(name: &str, file: &str, text: &str) -> Result<Self, ProfileError> {
        let placed = |(span, mistake): (Range<usize>, ProfileMistake)| {
            let before = text.as_bytes().iter().take(span.start);
            let line = before.filter(|byte| **byte == b'\n').count() + 1;
            ProfileError { file: file.to_owned(), line, mistake }
        };
        let form = |error: toml::de::Error| {
            let message = error.message().trim_end().replace('\n', ", ");
            placed((error.span().unwrap_or(0..0), ProfileMistake::Form { message }))
        };
        let parsed: FileText = toml::from_str(text).map_err(form)?;
        read(name, parsed).map_err(placed)
    }
}

fn read(name: &str, text: FileText) -> At<DeviceProfile> {
    let feeds = feeds(&text.feeds)?;
    let measurand = feeds[0];
    let patterns = patterns(&text.lines)?;
    let at_lines = || text.lines.span();
    let words = words(&text.words)?;
    let takes_mark = patterns.iter().any(LinePattern::takes_mark);
    if takes_mark == words.all().is_empty() {
        let missing = if takes_mark { "`words` has no mark" } else { "no line has a place `{mark}`" };
        return Err((at_lines(), ProfileMistake::MarksUnused { missing }));
    }
    let units = units(&text.value, measurand)?;
    let without_unit = without_unit(&text.value, &patterns)?;
    let without_mark = without_mark(&text.value, &patterns, at_lines())?;
    let settling = settling(&text.stable, measurand)?;
    let keyboard = text.keyboard.as_ref().is_some_and(|keyboard| *keyboard.get_ref());
    if let (true, Some(line)) = (keyboard, &text.line) {
        let why = "a device that types has no line";
        return Err((line.span(), ProfileMistake::Meaningless { field: "line", why }));
    }
    if keyboard && settling != Settling::EveryLine {
        let why = "a device that types sends each value once";
        return Err((
            text.stable.span(),
            ProfileMistake::Needed { field: "every_line", why, allowed: "`true`" },
        ));
    }
    let (port, line) = match &text.line {
        Some(line) => line_settings(line.get_ref())?,
        None => (None, LineSettings::default()),
    };
    Ok(DeviceProfile {
        name: name.to_owned(),
        feeds,
        patterns,
        words,
        units,
        without_unit,
        without_mark,
        settling,
        port,
        keyboard,
        line,
    })
}

fn feeds(text: &Spanned<Vec<Spanned<String>>>) -> At<Vec<Measurand>> {
    let mut feeds = Vec::new();
    for word in text.get_ref() {
        let Some(measurand) = Measurand::named(word.get_ref()) else {
            let allowed = ticked(Measurand::ALL.into_iter().map(Measurand::name));
            let found = word.get_ref().clone();
            return Err((word.span(), ProfileMistake::Word { field: "feeds", found, allowed }));
        };
        if let Some(first) = feeds.first().filter(|first: &&Measurand| first.units() != measurand.units()) {
            let mistake = ProfileMistake::Mixed { first: first.name(), other: measurand.name() };
            return Err((word.span(), mistake));
        }
        feeds.push(measurand);
    }
    if feeds.is_empty() {
        return Err((text.span(), ProfileMistake::Empty { field: "feeds" }));
    }
    Ok(feeds)
}

fn patterns(text: &Spanned<Vec<Spanned<String>>>) -> At<Vec<LinePattern>> {
    let patterns = text
        .get_ref()
        .iter()
        .map(|line| {
            LinePattern::parse(line.get_ref()).map_err(|error| (line.span(), ProfileMistake::Pattern(error)))
        })
        .collect::<At<Vec<_>>>()?;
    if patterns.is_empty() {
        return Err((text.span(), ProfileMistake::Empty { field: "lines" }));
    }
    Ok(patterns)
}

fn words(text: &WordsText) -> At<MarkWords> {
    let mut words = MarkWords::default();
    let lists = [
        ("words.stable", &text.stable, &mut words.stable),
        ("words.unstable", &text.unstable, &mut words.unstable),
        ("words.overload", &text.overload, &mut words.overload),
        ("words.under", &text.under, &mut words.under),
    ];
    let mut seen: Vec<&str> = Vec::new();
    for (field, texts, list) in lists {
        for word in texts {
            let found = word.get_ref();
            let good = (1..=LONGEST_MARK).contains(&found.chars().count())
                && !found.starts_with(|c: char| c.is_ascii_digit())
                && !found.chars().any(|c| c.is_whitespace() || c.is_control());
            if !good {
                return Err((word.span(), ProfileMistake::Mark { field, found: found.clone() }));
            }
            if seen.contains(&found.as_str()) {
                return Err((word.span(), ProfileMistake::MarkTwice { field, found: found.clone() }));
            }
            seen.push(found);
            list.push(found.clone());
        }
    }
    Ok(words)
}

fn units(text: &ValueText, measurand: Measurand) -> At<Vec<&'static Unit>> {
    let all = std::iter::once(("value.unit", &text.unit))
        .chain(text.other_units.iter().map(|unit| ("value.other_units", unit)));
    all.map(|(field, spelling)| {
        measurand.units().iter().find(|unit| unit.is_spelled(spelling.get_ref())).ok_or_else(|| {
            let allowed = ticked(measurand.units().iter().map(|unit| unit.symbol));
            (spelling.span(), ProfileMistake::Word { field, found: spelling.get_ref().clone(), allowed })
        })
    })
    .collect()
}

fn without_unit(text: &ValueText, patterns: &[LinePattern]) -> At<WithoutUnit> {
    const FIELD: &str = "value.without_unit";
    let Some(word) = &text.without_unit else { return Ok(WithoutUnit::Assumed) };
    if !patterns.iter().any(LinePattern::number_without_unit) {
        let why = "every line has its unit";
        return Err((word.span(), ProfileMistake::Meaningless { field: FIELD, why }));
    }
    match word.get_ref().as_str() {
        "assumed" => Ok(WithoutUnit::Assumed),
        "unstable" => Ok(WithoutUnit::Unstable),
        found => Err(not_one_of(word, FIELD, found, &["assumed", "unstable"])),
    }
}

fn without_mark(text: &ValueText, patterns: &[LinePattern], lines: Range<usize>) -> At<WithoutMark> {
    const FIELD: &str = "value.without_mark";
    let possible = patterns.iter().any(LinePattern::number_without_mark);
    match &text.without_mark {
        Some(word) if !possible => {
            let why = "every line has its mark";
            Err((word.span(), ProfileMistake::Meaningless { field: FIELD, why }))
        }
        None if possible => {
            let why = "a line can bring a number without a mark";
            Err((lines, ProfileMistake::Needed { field: FIELD, why, allowed: "`stable`, `unstable`" }))
        }
        None => Ok(WithoutMark::Unstable),
        Some(word) => match word.get_ref().as_str() {
            "stable" => Ok(WithoutMark::Stable),
            "unstable" => Ok(WithoutMark::Unstable),
            found => Err(not_one_of(word, FIELD, found, &["stable", "unstable"])),
        },
    }
}

fn not_one_of(
    word: &Spanned<String>,
    field: &'static str,
    found: &str,
    allowed: &[&str],
) -> (Range<usize>, ProfileMistake) {
    let allowed = ticked(allowed.iter().copied());
    (word.span(), ProfileMistake::Word { field, found: found.to_owned(), allowed })
}

fn settling(text: &Spanned<StableText>, measurand: Measurand) -> At<Settling> {
    let fields = text.get_ref();
    if fields.every_line {
        let numbers =
            [("stable.lines", &fields.lines), ("stable.longest_pause_ms", &fields.longest_pause_ms)];
        let sizes = [
            ("stable.spread", &fields.spread),
            ("stable.rearm_below", &fields.rearm_below),
            ("stable.rearm_change", &fields.rearm_change),
        ];
        let numbers =
            numbers.into_iter().filter_map(|(field, number)| Some((field, number.as_ref()?.span())));
        let sizes = sizes.into_iter().filter_map(|(field, size)| Some((field, size.as_ref()?.span())));
        return match numbers.chain(sizes).next() {
            Some((field, span)) => {
                Err((span, ProfileMistake::Meaningless { field, why: "`every_line` is `true`" }))
            }
            None => Ok(Settling::EveryLine),
        };
    }
    let needed = |field, why, allowed| (text.span(), ProfileMistake::Needed { field, why, allowed });
    let talks = "the device talks all the time unless `every_line` is `true`";
    let lines = fields.lines.as_ref().ok_or_else(|| needed("stable.lines", talks, "`2` to `100`"))?;
    let spread =
        fields.spread.as_ref().ok_or_else(|| needed("stable.spread", talks, "a size such as `0.00 g`"))?;
    if fields.rearm_below.is_none() && fields.rearm_change.is_none() {
        let why = "something has to tell the next piece from this one";
        return Err(needed("stable.rearm_below", why, "this, `rearm_change`, or both"));
    }
    let optional = |field, text: &Option<Spanned<String>>| {
        text.as_ref().map(|text| size(field, text, measurand)).transpose()
    };
    Ok(Settling::InARow {
        lines: ranged("stable.lines", lines, 2, 100)? as usize,
        spread: size("stable.spread", spread, measurand)?,
        longest_pause: Duration::from_millis(match &fields.longest_pause_ms {
            Some(pause) => ranged("stable.longest_pause_ms", pause, 10, 60_000)?,
            None => USUAL_PAUSE,
        }),
        rearm_below: optional("stable.rearm_below", &fields.rearm_below)?,
        rearm_change: optional("stable.rearm_change", &fields.rearm_change)?,
    })
}

/// Reads a size in base integers; that of a temperature is a difference.
fn size(field: &'static str, text: &Spanned<String>, measurand: Measurand) -> At<i64> {
    let wrong = |error| (text.span(), ProfileMistake::Quantity { field, error });
    if measurand == Measurand::Temperature {
        return parse::<TemperatureDifference>(text.get_ref())
            .map(|entry| entry.value.base().abs())
            .map_err(wrong);
    }
    match typed::read(measurand, text.get_ref(), None).map_err(wrong)? {
        TypedField::Value(reading) => Ok(reading.amount.base),
        TypedField::Nothing | TypedField::NotMeasured | TypedField::Repeat => {
            let example = format!("0.01 {}", measurand.units()[0].symbol);
            Err(wrong(EntryError::Empty { quantity: measurand.name(), example }))
        }
    }
}

fn ranged(field: &'static str, number: &Spanned<u64>, least: u64, greatest: u64) -> At<u64> {
    let found = *number.get_ref();
    if (least..=greatest).contains(&found) {
        return Ok(found);
    }
    Err((number.span(), ProfileMistake::Range { field, found, least, greatest }))
}

fn line_settings(text: &LineText) -> At<(Option<PathBuf>, LineSettings)> {
    let usual = LineSettings::default();
    let number = |field, number: &Option<Spanned<u64>>, least, greatest, usual: u32| match number {
        Some(number) => ranged(field, number, least, greatest).map(|number| number as u32),
        None => Ok(usual),
    };
    let speed = number("line.speed", &text.speed, 50, 4_000_000, usual.speed)?;
    let data_bits = number("line.data_bits", &text.data_bits, 7, 8, u32::from(usual.data_bits))? as u8;
    let stop_bits = number("line.stop_bits", &text.stop_bits, 1, 2, u32::from(usual.stop_bits))? as u8;
    let parity = match text.parity.as_ref().map(|word| (word, word.get_ref().as_str())) {
        None | Some((_, "none")) => Parity::None,
        Some((_, "even")) => Parity::Even,
        Some((_, "odd")) => Parity::Odd,
        Some((word, found)) => return Err(not_one_of(word, "line.parity", found, &["none", "even", "odd"])),
    };
    let ending = match &text.ending {
        None => Ending::Any,
        Some(word) => {
            let known = Ending::ALL.into_iter().find(|(name, _)| name == word.get_ref());
            let words: Vec<&str> = Ending::ALL.into_iter().map(|(name, _)| name).collect();
            known.ok_or_else(|| not_one_of(word, "line.ending", word.get_ref(), &words))?.1
        }
    };
    let request = match (&text.request, &text.request_every_ms) {
        (None, None) => None,
        (Some(command), Some(every)) => Some(Request {
            command: command.get_ref().clone().into_bytes(),
            every: Duration::from_millis(ranged("line.request_every_ms", every, 50, 60_000)?),
        }),
        (Some(command), None) => {
            let mistake = ProfileMistake::Needed {
                field: "line.request_every_ms",
                why: "a request is repeated",
                allowed: "`50` to `60000`",
            };
            return Err((command.span(), mistake));
        }
        (None, Some(every)) => {
            let why = "there is no `request`";
            return Err((every.span(), ProfileMistake::Meaningless { field: "line.request_every_ms", why }));
        }
    };
    let port = match &text.port {
        Some(port) if port.get_ref().trim().is_empty() => {
            return Err((port.span(), ProfileMistake::Empty { field: "line.port" }));
        }
        port => port.as_ref().map(|port| PathBuf::from(port.get_ref())),
    };
    Ok((port, LineSettings { speed, data_bits, parity, stop_bits, ending, request }))
}

#[cfg(test)]
mod tests {
    use super::*;

    const SCALE: &str = include_str!("../../../assets/desk/devices/scale.toml");

    #[track_caller]
    fn refused(old: &str, new: &str, message: &str) {
        assert!(SCALE.contains(old), "{old}");
        let text = SCALE.replacen(old, new, 1);
        let error = DeviceProfile::parse("mine", "mine.toml", &text).unwrap_err();
        assert_eq!(error.mistake.to_string(), message);
        let line = text.lines().nth(error.line - 1).unwrap();
        let changed = new.lines().last().unwrap_or(new);
        assert!(line.contains(changed) || new.is_empty(), "line {} is `{line}`", error.line);
        assert!(error.to_string().starts_with(&format!("mine.toml:{}: ", error.line)));
    }

    #[test]
    fn the_shipped_profiles_are_read() {
        let shipped = [
            ("scale", SCALE),
            ("calliper", include_str!("../../../assets/desk/devices/calliper.toml")),
            ("meter", include_str!("../../../assets/desk/devices/meter.toml")),
        ];
        let [scale, calliper, meter] =
            shipped.map(|(name, text)| DeviceProfile::parse(name, &format!("{name}.toml"), text).unwrap());
        assert_eq!(scale.feeds, [Measurand::Mass]);
        assert!(matches!(scale.settling, Settling::InARow { lines: 4, spread: 0, .. }));
        assert!(calliper.keyboard && calliper.feeds.len() == 4);
        assert_eq!(meter.line.request.unwrap().command, b"?\r");
        assert_eq!((meter.line.data_bits, meter.line.parity), (7, Parity::Even));
    }

    #[test]
    fn every_mistake_names_line_field_found_and_allowed() {
        refused(
            "feeds = [\"mass\"]",
            "feeds = [\"weight\"]",
            "`feeds`: `weight` is not one of `mass`, `diameter`, `length`, `width`, `thickness`, `conductivity`, \
             `temperature`",
        );
        refused(
            "feeds = [\"mass\"]",
            "feeds = [\"mass\", \"width\"]",
            "`feeds`: `mass` and `width` have different units; one device feeds one quantity",
        );
        refused("feeds = [\"mass\"]", "feeds = []", "`feeds` is empty; allowed is at least one");
        refused(
            "unit = \"g\"",
            "unit = \"oz\"",
            "`value.unit`: `oz` is not one of `g`, `kg`, `mg`, `ozt`, `gr`, `dwt`, `tola`, `tael`",
        );
        refused(
            "spread = \"0.00 g\"",
            "spread = \"0.00 mm\"",
            "`stable.spread`: mass `0.00 mm`: unit `mm` is not one of `g`, `kg`, `mg`, `ozt`, `gr`, `dwt`, `tola`, `tael`",
        );
        refused("lines = 4", "lines = 1", "`stable.lines`: 1 is out of range; allowed is 2 to 100");
        refused(
            "stable = [\"ok\"]",
            "stable = [\"ok\", \"7\"]",
            "`words.stable`: mark `7` is not one of 1 to 12 characters that begins with no digit and has no blank",
        );
        refused(
            "unstable = [\"move\"]",
            "unstable = [\"ok\"]",
            "`words.unstable`: mark `ok` is there twice; allowed is one meaning",
        );
        refused(
            "speed = 9600",
            "speed = 9600\nparity = \"mark\"",
            "`line.parity`: `mark` is not one of `none`, `even`, `odd`",
        );
        refused(
            "speed = 9600",
            "speed = 9600\nending = \"CRLF\"",
            "`line.ending`: `CRLF` is not one of `any`, `CR`, `LF`, `ETX`",
        );
        refused(
            "speed = 9600",
            "speed = 9600\nrequest = \"?\"",
            "`line.request_every_ms` is missing: a request is repeated; allowed are `50` to `60000`",
        );
        refused(
            "speed = 9600",
            "sped = 9600",
            "unknown field `sped`, expected one of `port`, `speed`, `data_bits`, `parity`, `stop_bits`, `ending`, `request`, `request_every_ms`",
        );
        refused("speed = 9600", "speed = fast", "invalid boolean, expected `false`");
    }

    #[test]
    fn what_a_line_without_mark_or_unit_means_is_said_or_refused() {
        refused(
            "{mark} {sign}",
            "{mark?} {sign}",
            "`value.without_mark` is missing: a line can bring a number without a mark; allowed are `stable`, `unstable`",
        );
        refused(
            "unit = \"g\"",
            "unit = \"g\"\nwithout_mark = \"stable\"",
            "`value.without_mark` means nothing here: every line has its mark",
        );
        refused(
            "unit = \"g\"",
            "unit = \"g\"\nwithout_unit = \"unstable\"",
            "`value.without_unit` means nothing here: every line has its unit",
        );
    }

    #[test]
    fn a_device_that_talks_needs_something_that_tells_pieces_apart() {
        let text = SCALE.replace("rearm_below", "# below").replace("rearm_change", "# change");
        let error = DeviceProfile::parse("mine", "mine.toml", &text).unwrap_err();
        assert_eq!(
            error.mistake.to_string(),
            "`stable.rearm_below` is missing: something has to tell the next piece from this one; allowed are this, \
             `rearm_change`, or both"
        );
    }
}
