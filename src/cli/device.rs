//! `scruple device`: the profiles of the devices of this machine.

use super::{Printed, input, json};
use crate::desk::{AppError, devices};
use crate::intake::device::{DeviceProfile, RawLine, StableFilter, unescape};
use crate::present::device_text::{Made, feeds, profile_json, reached, settled};
use crate::present::table::{Align, Table};
use crate::present::text::clean;
use clap::{Args, Subcommand};
use serde_json::json;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Arguments of `scruple device`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple device list
  scruple device check scale.toml --lines lines.txt")]
pub(super) struct DeviceArgs {
    #[command(subcommand)]
    act: DeviceAct,
}

#[derive(Debug, Subcommand)]
enum DeviceAct {
    /// List the profiles in the folder `devices` of the configuration
    #[command(after_help = "\
Examples:
  scruple device list
  scruple device list --json")]
    List,
    /// Read a profile and say what is wrong with it; nothing is written
    #[command(after_help = "\
Examples:
  scruple device check scale.toml
  scruple device check scale.toml --lines lines.txt --json")]
    Check {
        /// The profile, TOML
        file: PathBuf,
        /// A recording of `scruple listen`: shows what the profile makes of each line
        #[arg(long, value_name = "FILE")]
        lines: Option<PathBuf>,
    },
}

pub(super) fn run(args: &DeviceArgs, config: Option<&Path>, json: bool) -> Result<Printed, AppError> {
    match &args.act {
        DeviceAct::List => list(config, json),
        DeviceAct::Check { file, lines } => check(file, lines.as_deref(), json),
    }
}

fn list(config: Option<&Path>, json: bool) -> Result<Printed, AppError> {
    let profiles = devices::profiles(config)?;
    if json {
        let profiles: Vec<_> = profiles.iter().map(profile_json).collect();
        return Ok(Printed::done(json::document(json!({ "devices": profiles }))));
    }
    if profiles.is_empty() {
        let folder = config
            .map_or_else(|| "devices".to_owned(), |config| config.join("devices").display().to_string());
        return Ok(Printed::done(format!("no profile in {}\n", clean(&folder))));
    }
    let columns = ["name", "feeds", "units", "reached by", "a value is"];
    let mut table = Table::new(&columns.map(|column| (column, Align::Left)));
    for profile in &profiles {
        let (feeds, units) = (feeds(profile), profile.units_text().replace('`', ""));
        let (reached, settled) = (clean(&reached(profile)), settled(profile));
        table.row([clean(&profile.name).as_str(), &feeds, &units, &reached, &settled]);
    }
    Ok(Printed::done(table.text()))
}

fn check(file: &Path, lines: Option<&Path>, json: bool) -> Result<Printed, AppError> {
    let profile = devices::profile(file)?;
    let made = lines.map(|lines| read_recording(lines, &profile)).transpose()?;
    if json {
        let made = made.map(|made| made.iter().map(Made::json).collect::<Vec<_>>());
        let fields = json!({ "device": profile_json(&profile), "recording": made });
        return Ok(Printed::done(json::document(fields)));
    }
    let mut text = format!(
        "the profile is well formed: {} in {}, a value is {}\n",
        feeds(&profile),
        profile.units_text().replace('`', ""),
        settled(&profile)
    );
    for made in made.iter().flatten() {
        text.push_str(&made.text());
        text.push('\n');
    }
    Ok(Printed::done(text))
}

/// Reads a recording and says what a profile makes of it.
fn read_recording(path: &Path, profile: &DeviceProfile) -> Result<Vec<Made>, AppError> {
    let input::Input { name, text } = input::read(path)?;
    let mut filter = StableFilter::default();
    let mut read = Vec::new();
    for (index, row) in text.lines().enumerate() {
        let parts = row.split_once('\t').and_then(|(at, line)| Some((at.parse().ok()?, unescape(line)?)));
        let Some((at, bytes)) = parts else {
            let message = format!(
                "`{name}`, line {}: found `{row}`, allowed is a line of `scruple listen --record`",
                index + 1
            );
            return Err(AppError::failed(message));
        };
        let (at, line) = (Duration::from_millis(at), RawLine { bytes, too_long: false });
        let said = profile.read_line(&line);
        let taken = filter.take(&profile.settling, said.clone(), at).is_some();
        read.push(Made { at, line, said: Some(said), taken });
    }
    Ok(read)
}
