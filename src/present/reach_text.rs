//! What a probe proves on a product, in words, as a table and as strips of depth.

use super::table::{Align, Table};
use super::text::{clean, wrap};
use crate::evidence::Probe;
use crate::quantity::{Conductivity, Frequency, Length, Quantity};
use crate::scoring::{CoreReach, Model, Proposal, Reach};

/// Columns of the text.
const COLUMNS: usize = super::text::PAGE;
/// Columns of a strip of depth.
const STRIP: usize = 56;
/// Cores in the table and among the strips; the rest is counted.
const SHOWN: usize = 12;

/// What is known of a place in depth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// A core there would show.
    Seen,
    /// A core there can hide.
    Open,
}

/// Depths from the surface to the middle of the piece, in even steps, for one core.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Strip {
    /// What could lie there.
    pub label: String,
    /// One entry for each step.
    pub places: Vec<Place>,
}

/// Returns a strip for each core that is open, the most displaced first: `columns` steps from the surface to half the thickness.
pub fn strips(reach: &Reach, columns: usize) -> Vec<Strip> {
    let half = reach.half.as_millimetres();
    let open = reach.cores.iter().filter(|core| core.is_open());
    open.map(|core| {
        let hides = |depth: f64| {
            core.hides.iter().any(|(thin, thick)| {
                (thin.as_millimetres()..=thick.as_millimetres().max(half)).contains(&depth)
                    && (depth <= thick.as_millimetres() || core.hides.last() == Some(&(*thin, *thick)))
            })
        };
        let at = |column: usize| (column as f64 + 0.5) / columns.max(1) as f64 * half;
        let places = (0..columns).map(|column| if hides(at(column)) { Place::Open } else { Place::Seen });
        Strip { label: core.material.to_string(), places: places.collect() }
    })
    .collect()
}

/// Returns a frequency as people say it.
pub fn frequency(frequency: Frequency) -> String {
    let hertz = frequency.as_hertz();
    if hertz >= 10_000.0 {
        format!("{:.0} kHz", hertz / 1000.0)
    } else if hertz >= 1000.0 {
        format!("{:.1} kHz", hertz / 1000.0)
    } else {
        format!("{hertz:.0} Hz")
    }
}

/// Returns a depth, with the digits that a skin needs.
fn depth(length: Length) -> String {
    if length.as_millimetres() < 0.005 { "any skin".to_owned() } else { length.show(2) }
}

/// Returns frequency and coil of a probe.
fn probe_in_words(probe: &Probe) -> String {
    let at = probe.frequency.map_or("frequency not known".to_owned(), frequency);
    let coil = probe.coil.map_or("coil not stated".to_owned(), |coil| {
        let length =
            coil.length.map_or(String::new(), |length| format!(", {:.1} mm long", length.as_millimetres()));
        format!(
            "coil from {:.1} to {:.1} mm radius{length}",
            coil.inner.as_millimetres(),
            coil.outer.as_millimetres()
        )
    });
    format!("{at}, {coil}")
}

fn between(pair: (Conductivity, Conductivity)) -> String {
    format!("{:.2} to {:.2} MS/m", pair.0.as_ms_per_m(), pair.1.as_ms_per_m())
}

/// Adds a text in lines, all but the first set in.
fn put(out: &mut String, first: &str, text: &str) {
    let lines = wrap(text, COLUMNS - first.chars().count());
    for (number, line) in lines.iter().enumerate() {
        if number == 0 {
            out.push_str(first);
        } else {
            out.extend(std::iter::repeat_n(' ', first.chars().count()));
        }
        out.push_str(line);
        out.push('\n');
    }
}

/// Returns the head: product, measures and what was assumed.
fn head(reach: &Reach, name: &str) -> String {
    let mut out = String::new();
    out.push_str(&format!("{}  {}\n", reach.product, clean(name)));
    put(&mut out, "", &reach.size);
    if !reach.assumed.is_empty() {
        put(&mut out, "", &format!("assumed: {}; state the measures of yours", reach.assumed.join("; ")));
    }
    out
}

/// Returns the account of one probe.
pub fn account(reach: &Reach, name: &str) -> String {
    let mut out = head(reach, name);
    out.push('\n');
    put(&mut out, "", &format!("Probe {}: {}", clean(&reach.probe.name), probe_in_words(&reach.probe)));
    if let Some(skin) = reach.skin_depth {
        put(&mut out, "  skin depth  ", &skin.show(3));
    }
    match (&reach.not_usable, reach.proved_depth) {
        (Some(reason), _) => put(&mut out, "  not usable  ", reason),
        (None, Some(proved)) => put(
            &mut out,
            "  vouches for ",
            &format!("the outer {}, 1.1 skin depths; nothing below", proved.show(2)),
        ),
        (None, None) => put(&mut out, "  vouches for ", "no depth that could be stated"),
    }
    if let Some(ratio) = reach.thickness_ratio {
        put(
            &mut out,
            "  thickness   ",
            &format!("{ratio:.1} skin depths of metal; usable from 2.2, free of caution from 2.6"),
        );
    }
    if let Some(ratio) = reach.radius_ratio {
        put(
            &mut out,
            "  face        ",
            &format!("radius {ratio:.2} times the coil's; usable from 1.6, free of caution from 1.85"),
        );
    }
    if let Some(spots) = reach.spots {
        put(&mut out, "  spots       ", &format!("{spots} cover one face; cover never adds depth"));
    }
    put(&mut out, "  window      ", &between(reach.window));
    match (reach.u, reach.accepted) {
        (Some(u), Some(accepted)) => put(
            &mut out,
            "  accepted    ",
            &format!("readings from {}, with u {:.2} MS/m", between(accepted), u.as_ms_per_m()),
        ),
        (Some(u), None) => put(
            &mut out,
            "  accepted    ",
            &format!(
                "none: u {:.2} MS/m is too large for this window, the instrument is not capable",
                u.as_ms_per_m()
            ),
        ),
        _ => {}
    }
    let model = match (reach.model, &reach.outside_model) {
        (Some(Model::Coil), _) => {
            let stated = reach.probe.coil.is_some_and(|coil| coil.length.is_some());
            let assumed = if stated { "its lift-off" } else { "its length and lift-off" };
            format!("the analytic coil over layered metal, {assumed} assumed")
        }
        (Some(Model::PlaneWave), _) => "the plane wave, because the coil is not stated".to_owned(),
        (None, reason) => format!("none: {}", reason.as_deref().unwrap_or("no reading")),
    };
    put(&mut out, "  model       ", &model);
    for note in &reach.notes {
        put(&mut out, "  note        ", note);
    }
    solids(&mut out, reach);
    cores(&mut out, reach);
    out
}

fn solids(out: &mut String, reach: &Reach) {
    if reach.solids.is_empty() {
        return;
    }
    out.push_str("\nSolids that an accepted reading leaves open\n");
    for solid in &reach.solids {
        let always = if solid.always { ", the reading to expect among them" } else { "" };
        let text = format!(
            "{}: {:.0} % of the accepted readings, {}{always}",
            solid.name,
            100.0 * solid.share,
            between(solid.between)
        );
        put(out, "  ", &text);
    }
}

fn cores(out: &mut String, reach: &Reach) {
    let open: Vec<&CoreReach> = reach.cores.iter().filter(|core| core.is_open()).collect();
    let small = reach.cores.iter().filter(|core| core.left_from.is_some() && core.concerns.is_none()).count();
    let gone: Vec<&str> = reach
        .cores
        .iter()
        .filter(|core| core.left_from.is_none())
        .map(|core| core.material.as_str())
        .collect();
    if reach.cores.is_empty() {
        return;
    }
    out.push_str("\nCores that an accepted reading can hide, the most displaced first\n");
    let mut table = Table::new(&[
        ("core", Align::Left),
        ("hides from", Align::Right),
        ("weight allows", Align::Right),
        ("volume", Align::Right),
        ("displaces", Align::Right),
        ("shows up to", Align::Right),
    ]);
    for core in open.iter().take(SHOWN) {
        let first = core.first().map_or(String::new(), depth);
        let needed = core.frequency_needed.map_or("none".to_owned(), |needed| {
            let admitted = reach.lowest_frequency.is_none_or(|lowest| lowest <= needed);
            if admitted { frequency(needed) } else { format!("{} *", frequency(needed)) }
        });
        table.row([
            core.material.to_string(),
            first,
            core.left_from.map_or(String::new(), depth),
            format!("{:.0} %", 100.0 * core.share),
            core.displaced.map_or("-".to_owned(), |money| money.to_string()),
            needed,
        ]);
    }
    if open.is_empty() {
        out.push_str("  none that the policy minds\n");
    }
    for line in table.lines().iter().filter(|_| !open.is_empty()) {
        out.push_str("  ");
        out.push_str(line);
        out.push('\n');
    }
    if open.len() > SHOWN {
        out.push_str(&format!("  and {} more\n", open.len() - SHOWN));
    }
    if small > 0 {
        out.push_str(&format!("  and {small} that displace less than the policy's limits\n"));
    }
    if !gone.is_empty() {
        put(
            out,
            "  ",
            &format!("weight and size exclude under every skin that hides it: {}", gone.join(", ")),
        );
    }
    if !open.is_empty() {
        out.push('\n');
        put(
            out,
            "",
            "hides from: thinnest skin under which the probe alone accepts such a piece. weight allows: thinnest of these that mass and outline do not exclude; volume and value are those there. shows up to: highest frequency at which it shows under the deepest skin that still matters, or at the depth asked for; `none` where no frequency shows it.",
        );
        if let Some(lowest) = reach.lowest_frequency {
            put(
                out,
                "",
                &format!(
                    "This thickness admits {} and above (2.6 skin depths); * lies below that, so no probe shows it and another method has to.",
                    frequency(lowest)
                ),
            );
        }
        let strips = strips(reach, STRIP);
        let widest = strips.iter().take(SHOWN).map(|strip| strip.label.chars().count()).max().unwrap_or(0);
        out.push_str(&format!(
            "\nDepth from the surface to the middle, {}: = shows, / can hide\n",
            reach.half.show(2)
        ));
        for strip in strips.iter().take(SHOWN) {
            let places: String =
                strip.places.iter().map(|place| if *place == Place::Seen { '=' } else { '/' }).collect();
            out.push_str(&format!("  {:<widest$}  {places}\n", strip.label));
        }
    }
}

/// Returns the comparison of all probes of the desk with the one to take.
pub fn comparison(reaches: &[Reach], proposal: &Proposal, name: &str) -> String {
    let Some(first) = reaches.first() else { return "the desk has no probe\n".to_owned() };
    let mut out = head(first, name);
    out.push('\n');
    let mut table = Table::new(&[
        ("", Align::Left),
        ("probe", Align::Left),
        ("frequency", Align::Right),
        ("skin depth", Align::Right),
        ("vouches for", Align::Right),
        ("thickness", Align::Right),
        ("face", Align::Right),
        ("spots", Align::Right),
        ("", Align::Left),
    ]);
    for (place, reach) in reaches.iter().enumerate() {
        let number = |value: Option<f64>| value.map_or("-".to_owned(), |value| format!("{value:.2}"));
        table.row([
            if proposal.best == Some(place) { ">" } else { "" }.to_owned(),
            reach.probe.name.clone(),
            reach.probe.frequency.map_or("-".to_owned(), frequency),
            reach.skin_depth.map_or("-".to_owned(), |skin| skin.show(2)),
            reach.proved_depth.map_or("-".to_owned(), |proved| proved.show(2)),
            number(reach.thickness_ratio),
            number(reach.radius_ratio),
            reach.spots.map_or("-".to_owned(), |spots| spots.to_string()),
            if reach.not_usable.is_some() {
                "not usable"
            } else if reach.accepted.is_none() {
                "not capable"
            } else {
                ""
            }
            .to_owned(),
        ]);
    }
    out.push_str(&table.text());
    put(&mut out, "", "thickness: metal in skin depths, from 2.2. face: radius over the coil's, from 1.6.");
    out.push('\n');
    let said = match proposal.best {
        Some(best) => format!("Take {}: {}", clean(&reaches[best].probe.name), proposal.why),
        None => format!("Take none: {}", proposal.why),
    };
    put(&mut out, "", &said);
    out
}
