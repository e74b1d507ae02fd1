//! Carrying out the wishes of the end of the day: second tests, decisions, samples, releases, stock, the day sheet.

use super::effect::{Effect, Files, Pin};
use super::message::{Message, Trouble};
use super::perform::{home, unreadable};
use crate::desk::private_file::create_new;
use crate::desk::review_views::Ending;
use crate::desk::{AppError, Desk, ErrorKind};
use crate::physics::recording::ring_of_recording;
use crate::present::words::count;
use crate::report::document::Document;
use crate::report::{day_sheet, html, pdf};
use chrono::{Local, Offset};
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::PathBuf;

/// Largest recording that is read, in bytes: thirty seconds in stereo at the highest rate and depth fit.
const LARGEST_RECORDING: u64 = 64 * 1024 * 1024;

/// Tells whether the desk refused because it wants a PIN, or another one.
pub(super) fn asks_for_pin(error: &AppError) -> bool {
    error.kind == ErrorKind::NotPermitted && error.message.contains("PIN")
}

/// Carries one effect of the review out and returns what came of it.
pub(super) fn review(desk: &mut Desk, effect: Effect) -> Result<Vec<Message>, AppError> {
    let pin_of = |pin: &Option<Pin>| pin.as_ref().map(|pin| pin.0.clone());
    Ok(match effect {
        Effect::LoadHolds => vec![Message::Holds(desk.open_groups()?)],
        Effect::LoadStock => vec![Message::Stock(desk.newest_stock()?)],
        Effect::LoadInstruments => vec![Message::Instruments(Box::new(desk.instruments_view()?))],
        Effect::LoadBudget { number } => {
            let (number, budgets) = desk.budgets(&number)?;
            vec![Message::Budgets { number, budgets }]
        }
        Effect::LoadReach { product, probe } => {
            vec![Message::Reach(Box::new(desk.prospect(&product, probe.as_deref())?))]
        }
        Effect::RecordControl(request) => {
            vec![Message::ControlRecorded(Box::new(desk.record_control(&request)?))]
        }
        Effect::LoadDay(day) => vec![Message::Day(Box::new(desk.day(day)?))],
        Effect::RecordTest { piece, test } => {
            vec![Message::TestRecorded(Box::new(desk.record_second_test(&piece, *test)?))]
        }
        Effect::ReadRecording { row, path } => vec![recording(row, path)],
        Effect::Settle { hold, reason, evidence, pin } => {
            let settled = desk.settle(hold, &reason, evidence, pin_of(&pin).as_deref())?;
            let whose = settled.piece.as_ref().unwrap_or(&settled.lot);
            vec![Message::Decided(format!("The doubt `{}` of {whose} is settled.", settled.kind.label()))]
        }
        Effect::LoadSamples { lot } => vec![samples(desk, lot)?],
        Effect::DrawSample { lot, seed } => {
            desk.draw_sample(&lot, seed)?;
            vec![samples(desk, lot)?]
        }
        Effect::SettleOnSample { lot, kind, reason, pin } => {
            desk.settle_on_sample(&lot, kind, &reason, pin_of(&pin).as_deref())?;
            vec![Message::Decided(format!(
                "The doubts `{}` of {lot} are settled on its sample.",
                kind.label()
            ))]
        }
        Effect::PartWith { ending, pieces, reason, pin } => {
            let pin = pin_of(&pin);
            let how = if ending == Ending::Surrendered {
                desk.surrender(&pieces, &reason, pin.as_deref())?;
                "surrendered"
            } else {
                desk.send_back(&pieces, &reason, pin.as_deref())?;
                "sent back"
            };
            let are = if pieces.len() == 1 { "is" } else { "are" };
            let whose = count(pieces.len(), "piece", "pieces");
            vec![Message::Decided(format!("{whose} {are} recorded as {how}: {}.", pieces.join(", ")))]
        }
        Effect::Release { pieces, pin } => {
            vec![Message::Released(desk.release(&pieces, pin_of(&pin).as_deref())?)]
        }
        Effect::WriteDay { day, path, files } => {
            let view = desk.day(Some(day))?;
            let document = day_sheet::document(&view, &desk.prices()?, Local::now().offset().fix());
            match write_files(&document, &path, files) {
                Ok(written) => vec![Message::Written(written)],
                Err(trouble) => vec![Message::Failed(trouble)],
            }
        }
        // Every other wish is carried out on the way here.
        _ => Vec::new(),
    })
}

/// Reads a recording and what it tells.
fn recording(row: usize, path: String) -> Message {
    let mut bytes = Vec::new();
    let read =
        File::open(home(&path)).and_then(|file| file.take(LARGEST_RECORDING + 1).read_to_end(&mut bytes));
    if let Err(error) = read {
        return Message::Failed(unreadable("recording", &path, &error));
    }
    if bytes.len() as u64 > LARGEST_RECORDING {
        let message =
            format!("recording `{path}` is too large; allowed is at most {} MiB", LARGEST_RECORDING >> 20);
        return Message::Failed(Trouble { message, hints: Vec::new() });
    }
    match ring_of_recording(&bytes) {
        Ok(recording) => Message::RecordingRead { row, path, recording: Box::new(recording) },
        Err(error) => {
            let hint = "record one ring of the free piece, without other sounds, and try again".to_owned();
            Message::Failed(Trouble { message: format!("`{path}`: {error}"), hints: vec![hint] })
        }
    }
}

/// Returns the samples of a lot.
fn samples(desk: &Desk, lot: String) -> Result<Message, AppError> {
    let id = desk
        .shipments()?
        .iter()
        .flat_map(|shipment| &shipment.lots)
        .find(|view| view.number == lot)
        .map(|view| view.id);
    let Some(id) = id else { return Err(AppError::failed(format!("no lot has the number `{lot}`"))) };
    Ok(Message::Samples { samples: desk.samples(id)?, lot })
}

/// Writes the files of a report; a file that is there already is left alone.
fn write_files(document: &Document, path: &str, files: Files) -> Result<Vec<String>, Trouble> {
    let mut wanted: Vec<(&str, Vec<u8>)> = Vec::new();
    if files.html {
        wanted.push(("html", html::page(document).into_bytes()));
    }
    if files.pdf {
        wanted.push(("pdf", pdf::report(document, pdf::Paper::A4)));
    }
    let paths: Vec<(PathBuf, String, Vec<u8>)> = wanted
        .into_iter()
        .map(|(ending, bytes)| {
            let shown = format!("{path}.{ending}");
            (home(&shown), shown, bytes)
        })
        .collect();
    if let Some((_, shown, _)) = paths.iter().find(|(path, _, _)| path.exists()) {
        let message = format!("`{shown}` is there already and was left as it is; nothing was written");
        return Err(Trouble { message, hints: vec!["give another name".to_owned()] });
    }
    let mut written = Vec::new();
    for (path, shown, bytes) in paths {
        let write = || -> io::Result<()> {
            let mut file = create_new(&path)?;
            file.write_all(&bytes)?;
            file.sync_all()
        };
        write().map_err(|error| Trouble {
            message: format!("`{shown}` cannot be written: {error}"),
            hints: vec!["give a path in a folder that is yours to write".to_owned()],
        })?;
        written.push(shown);
    }
    Ok(written)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Writes one second of a tone that fades in a fifth of a second, struck after a tenth, over faint noise.
    fn strike(path: &std::path::Path, frequency_hz: f64) {
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: 48_000,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let mut writer = hound::WavWriter::create(path, spec).unwrap();
        for step in 0..48_000u32 {
            let after = f64::from(step) / 48_000.0 - 0.1;
            let ring = if after < 0.0 {
                0.0
            } else {
                0.5 * (-after / 0.2).exp() * (std::f64::consts::TAU * frequency_hz * after).sin()
            };
            let noise = f64::from(step.wrapping_mul(2_654_435_761) >> 16) / 65_536.0 - 0.5;
            writer.write_sample(((ring + 0.0004 * noise) * 32_767.0) as i16).unwrap();
        }
        writer.finalize().unwrap();
    }

    #[test]
    fn a_recording_is_read_from_its_file_and_gives_its_frequency() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ring.wav");
        strike(&path, 5102.0);
        let shown = path.display().to_string();
        match recording(1, shown.clone()) {
            Message::RecordingRead { row: 1, path, recording } => {
                assert_eq!(path, shown);
                // The tone was made at 5102 Hz; the issue asks for 1 Hz.
                assert!(
                    (recording.partials[0].frequency_hz - 5102.0).abs() < 1.0,
                    "{:?}",
                    recording.partials
                );
            }
            other => panic!("{other:?}"),
        }
        match recording(0, folder.path().join("none.wav").display().to_string()) {
            Message::Failed(trouble) => assert!(trouble.message.contains("cannot be read")),
            other => panic!("{other:?}"),
        }
        std::fs::write(folder.path().join("text.wav"), "no sound").unwrap();
        match recording(0, folder.path().join("text.wav").display().to_string()) {
            Message::Failed(trouble) => assert!(trouble.message.contains("not a readable WAV file")),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_file_that_is_there_already_is_left_alone_and_nothing_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("day").display().to_string();
        let document = Document::new("Day sheet", "2026-03-14");
        let both = Files { html: true, pdf: true };
        let written = write_files(&document, &path, both).unwrap();
        assert_eq!(written, [format!("{path}.html"), format!("{path}.pdf")]);
        // ISO 32000-1, 7.5.2: a PDF file begins with `%PDF-`.
        assert!(std::fs::read(format!("{path}.pdf")).unwrap().starts_with(b"%PDF-"));
        std::fs::remove_file(format!("{path}.html")).unwrap();
        let refused = write_files(&document, &path, both).unwrap_err();
        assert!(refused.message.contains("is there already"), "{}", refused.message);
        assert!(!std::path::Path::new(&format!("{path}.html")).exists());
    }

    #[test]
    fn only_a_missing_or_wrong_pin_is_asked_for() {
        let pin = AppError::new(ErrorKind::NotPermitted, "this is not the PIN of `ana`");
        let role = AppError::new(ErrorKind::NotPermitted, "`ana` is a receiver; this needs a reviewer");
        assert!(asks_for_pin(&pin) && !asks_for_pin(&role));
    }
}
