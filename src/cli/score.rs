//! `scruple score`: one piece, no book needed. The options and the JSON are a contract that others script against.

use crate::desk::score::{ScoreRequest, score};
use crate::desk::{AppError, Settings};
use crate::present::{assessment_json, assessment_text};
use clap::Args;

/// Options of `scruple score`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple score us-5112-a7 --mass 33.93g --diameter 32.70mm --thickness 2.87mm --conductivity 11.2MS/m --probe flat
  scruple score bar-silver-999-10ozt --mass '10,012 ozt' --conductivity 106.5%IACS --price 30 --json")]
pub struct ScoreArgs {
    /// Product id; `scruple reference list` shows them
    product: String,
    /// Mass, such as `31.10g` or `1ozt`
    #[arg(long, value_name = "Q")]
    mass: Option<String>,
    /// Diameter, such as `38.61mm`
    #[arg(long, value_name = "Q")]
    diameter: Option<String>,
    /// Thickness over the highest points
    #[arg(long, value_name = "Q")]
    thickness: Option<String>,
    /// Longer side of a bar
    #[arg(long, value_name = "Q")]
    length: Option<String>,
    /// Shorter side of a bar
    #[arg(long, value_name = "Q")]
    width: Option<String>,
    /// Conductivity, such as `61.2MS/m` or `105%IACS`; once for each spot
    #[arg(long, value_name = "Q")]
    conductivity: Vec<String>,
    /// A probe of the desk by name; the options below override its data
    #[arg(long, value_name = "NAME")]
    probe: Option<String>,
    /// Test frequency of the probe
    #[arg(long, value_name = "Q")]
    frequency: Option<String>,
    /// Inner and outer coil radius, and length where known, such as `2mm,4mm` or `2mm,4mm,1.5mm`
    #[arg(long, value_name = "INNER,OUTER")]
    coil: Option<String>,
    /// Distance between probe and metal
    #[arg(long, value_name = "Q")]
    lift_off: Option<String>,
    /// Distance up to which the meter compensates
    #[arg(long, value_name = "Q")]
    lift_off_range: Option<String>,
    /// Temperature of the piece
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    temperature: Option<String>,
    /// How the meter was set: at-temperature, to-20C or unknown
    #[arg(long, value_name = "WAY")]
    standardised: Option<String>,
    /// Wall of a sleeve or capsule between probe and metal
    #[arg(long, value_name = "Q")]
    sleeve: Option<String>,
    /// What a magnet did: attracted or none
    #[arg(long, value_name = "WHAT")]
    magnet: Option<String>,
    /// Standard uncertainty of the mass (k = 1)
    #[arg(long, value_name = "Q")]
    u_mass: Option<String>,
    /// Standard uncertainty of every length (k = 1)
    #[arg(long, value_name = "Q")]
    u_length: Option<String>,
    /// Standard uncertainty of the conductivity (k = 1)
    #[arg(long, value_name = "Q")]
    u_conductivity: Option<String>,
    /// Price of a troy ounce of the fine metal, such as `2400` or `2400 EUR`
    #[arg(long, value_name = "Q")]
    price: Option<String>,
    /// The coin has been in circulation: the legal least weight counts
    #[arg(long)]
    circulated: bool,
    /// The piece has no flat field (jewellery, hollow ware)
    #[arg(long)]
    irregular: bool,
}

impl ScoreArgs {
    fn request(&self) -> ScoreRequest {
        ScoreRequest {
            product: self.product.clone(),
            mass: self.mass.clone(),
            diameter: self.diameter.clone(),
            thickness: self.thickness.clone(),
            length: self.length.clone(),
            width: self.width.clone(),
            conductivity: self.conductivity.clone(),
            probe: self.probe.clone(),
            frequency: self.frequency.clone(),
            coil: self.coil.clone(),
            lift_off: self.lift_off.clone(),
            lift_off_range: self.lift_off_range.clone(),
            temperature: self.temperature.clone(),
            standardised: self.standardised.clone(),
            sleeve: self.sleeve.clone(),
            magnet: self.magnet.clone(),
            u_mass: self.u_mass.clone(),
            u_length: self.u_length.clone(),
            u_conductivity: self.u_conductivity.clone(),
            price: self.price.clone(),
            circulated: self.circulated,
            irregular: self.irregular,
        }
    }
}

/// Scores one piece and returns what goes to standard output, with whether it is on hold or refused.
///
/// # Errors
/// `User` errors that name the option and what is allowed.
pub fn run(args: &ScoreArgs, settings: &Settings, json: bool) -> Result<(String, bool), AppError> {
    let found = score(&args.request(), &settings.catalogue, &settings.instruments, &settings.policy)?;
    let open = found.standing != crate::scoring::Standing::Clear;
    if json {
        let text = serde_json::to_string_pretty(&assessment_json::assessment(&found))
            .expect("an assessment is made of texts and finite numbers");
        return Ok((text + "\n", open));
    }
    let name = settings.catalogue.product(found.product.as_str()).map_or("", |product| product.name.as_str());
    Ok((assessment_text::account(&found, name), open))
}
