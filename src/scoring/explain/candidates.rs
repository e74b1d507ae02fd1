//! What a piece could still be, and what it cannot be: what each candidate would read, weigh, hide and be worth.

use super::super::assessment::{Candidate, Construction, Scope};
use super::super::exclusion::Exclusion;
use super::super::geometry::{Face, Measured};
use super::super::scans::{MODEL_SHARE, core_range};
use super::super::second::{Build, CoreShape, EXCLUDES_AT, Range, distance};
use super::{Case, Explanation, Known, Source, Step, Thing, figure};
use crate::physics::density::density_of_clad;
use crate::quantity::Mass;
use crate::reference::{Mark, Material};

/// Explains every candidate that is kept, in the order of the assessment.
pub(super) fn all(case: &Case<'_>) -> Vec<Explanation> {
    case.assessment.candidates.iter().filter_map(|candidate| one(case, candidate)).collect()
}

/// Explains the price; `None` where none was known.
pub(super) fn price(case: &Case<'_>) -> Option<Explanation> {
    let price = case.grounds.price?;
    let product = case.declared.product;
    let metal = product.metal;
    Some(Explanation {
        thing: Thing::Price,
        title: format!("the price of {metal}"),
        steps: vec![Step::said(format!(
            "{price} a troy ounce of fine {metal}, the last one entered when the piece was scored"
        ))],
        result: format!("{price} a troy ounce ({} g)", Mass::TROY_OUNCE.as_grams()),
        sources: vec![Source::new(format!("{price}, typed with `scruple price {metal}`"), Known::Person)],
        changes: vec![format!(
            "a new price, then scoring the lot again: `scruple price {metal} AMOUNT`, `scruple rescore LOT`"
        )],
    })
}

/// Explains one candidate; `None` for a material that the reference does not hold.
fn one(case: &Case<'_>, candidate: &Candidate) -> Option<Explanation> {
    let material = case.catalogue().material(candidate.material.as_str())?;
    let index = case.catalogue().materials().position(|known| known.id == material.id)?;
    let mut made = Explanation {
        thing: Thing::Candidate(candidate.material.clone(), candidate.construction),
        title: title(candidate),
        steps: Vec::new(),
        result: result(candidate),
        sources: Vec::new(),
        changes: Vec::new(),
    };
    // Of a core the thinnest surviving skin counts: there it hides most.
    let core = match candidate.construction {
        Construction::Solid => None,
        Construction::Core => shape(case, candidate),
    };
    if candidate.construction == Construction::Core && core.is_none() && candidate.survives {
        return None;
    }
    let build = Build { material, index, core };
    match &candidate.excluded_by {
        Some(exclusion) => excluded(exclusion, &mut made.steps),
        None => {
            conductivity(case, candidate, &build, &mut made.steps);
            density(case, &build, &mut made.steps);
            looks(case, &build, &mut made.steps);
            if let Some(core) = core {
                share(case, candidate, core, &mut made.steps);
            }
            money(case, candidate, &build, &mut made.steps);
            concerns(case, candidate, &mut made.steps);
        }
    }
    sources(case, material, &mut made);
    made.changes = changes(candidate);
    Some(made)
}

fn title(candidate: &Candidate) -> String {
    let built = match candidate.construction {
        Construction::Solid => "throughout",
        Construction::Core => "as a core under a skin",
    };
    let verb = if candidate.survives { "why it could still be" } else { "why it is not" };
    format!("{verb} {} {built}", candidate.name)
}

fn result(candidate: &Candidate) -> String {
    if let Some(exclusion) = &candidate.excluded_by {
        return format!("excluded by {exclusion}");
    }
    let share = candidate
        .hidden_share
        .map_or_else(String::new, |share| format!("up to {:.0} % of the volume", 100.0 * share));
    let money = candidate.displaced.map_or_else(String::new, |money| format!(", {money} at risk"));
    let concern = match candidate.material_doubt {
        Some(Scope::Piece) => "a doubt of the piece",
        Some(Scope::Lot) => "a doubt of the lot",
        None => "a remark, it holds nothing",
    };
    format!("not excluded: {share}{money}; {concern}")
}

/// Returns the size of the core under the thinnest skin that survives.
fn shape(case: &Case<'_>, candidate: &Candidate) -> Option<CoreShape> {
    let (from, _) = candidate.skins.first()?;
    let steps = case.trial.skins();
    let gap = |shape: &CoreShape| (shape.skin - from.as_millimetres()).abs();
    steps.into_iter().min_by(|a, b| gap(a).total_cmp(&gap(b)))
}

/// Says what it would read, and how far that is from the reading.
fn conductivity(case: &Case<'_>, candidate: &Candidate, build: &Build<'_>, steps: &mut Vec<Step>) {
    let Some(measured) = case.trial.conductivity else {
        steps.push(Step::said("conductivity: no usable reading, so it excludes nothing"));
        return;
    };
    let (range, model) = match build.core {
        None => {
            let (low, high) = core_range(build.material);
            (Range { low, high }, 0.0)
        }
        Some(core) => {
            let table = case.trial.table();
            let scan = case.trial.scan(table.as_deref());
            let found = table.as_ref().zip(scan).and_then(|(table, scan)| {
                let step = scan.shapes().position(|shape| shape == core)?;
                Some(table.cores.get(build.index)?.at(step))
            });
            let Some(range) = found else {
                let why = case.trial.outside_model();
                let why = why.unwrap_or_else(|| "no model says what this core reads".to_owned());
                steps.push(Step::said(format!("conductivity excluded no core: {why}")));
                return;
            };
            (range, MODEL_SHARE)
        }
    };
    let under = build.core.map_or_else(String::new, |core| {
        format!(" under {:.3} mm of the declared alloy, the thinnest skin that is left", core.skin)
    });
    steps.push(Step::said(format!(
        "it would read {} to {} MS/m{under}; the reading is {} MS/m with u = {} MS/m",
        figure(range.low),
        figure(range.high),
        figure(measured.value),
        figure(measured.u)
    )));
    if candidate.outside_model {
        return;
    }
    steps.push(far(measured, range, model));
}

/// Says how far a reading lies from all that a build can show.
fn far(measured: Measured, range: Range, model: f64) -> Step {
    let away = distance(measured, range, model);
    let words = "distance of the reading from that range, in standard uncertainties: excluded from 3.29 on, 1 in 1000";
    let formula = match model {
        0.0 => "d = gap / u".to_owned(),
        _ => format!(
            "d = gap / √(u² + ({model} × predicted / {EXCLUDES_AT})²); the model itself may be off by {:.0} %",
            100.0 * model
        ),
    };
    let gap = (range.low - measured.value).max(measured.value - range.high).max(0.0);
    let nearest = measured.value.clamp(range.low, range.high);
    let numbers = match (gap, model) {
        (0.0, _) => "gap = 0, the reading lies inside: d = 0, below 3.29".to_owned(),
        (_, 0.0) => format!("{} / {} = {}", figure(gap), figure(measured.u), figure(away)),
        _ => format!(
            "{} / √({}² + ({model} × {} / {EXCLUDES_AT})²) = {}",
            figure(gap),
            figure(measured.u),
            figure(nearest),
            figure(away)
        ),
    };
    Step::new(words, formula, numbers)
}

/// Says what mass and outline allow.
fn density(case: &Case<'_>, build: &Build<'_>, steps: &mut Vec<Step>) {
    let Some(envelope) = case.grounds.geometry.envelope_density else {
        steps.push(Step::said("mass and outline: not both measured, so density excludes nothing"));
        return;
    };
    let bounds = case.trial.density_bounds(build.material);
    let share = build.core.map_or(1.0, |core| core.share);
    let densest = density_of_clad(bounds.high.0, bounds.high.1, share);
    let lightest = density_of_clad(bounds.low.0, bounds.low.1, share);
    steps.push(Step::new(
        "mass over the volume of the outline is a lower bound of the density: the densest such body must reach it",
        format!("ρ_skin + s (ρ_core − ρ_skin) ≥ m / V − {EXCLUDES_AT} u"),
        format!(
            "{} ≥ {} − {EXCLUDES_AT} × {} = {} g/cm³: {}",
            figure(densest),
            figure(envelope.value),
            figure(envelope.u),
            figure(bounds.at_least),
            if bounds.at_least <= densest { "it does" } else { "it does not" }
        ),
    ));
    if bounds.fill_impossible > 0.0 {
        steps.push(Step::new(
            "a struck piece fills its outline: the lightest such body may not be too heavy for it",
            format!("m / V + {EXCLUDES_AT} u ≥ {} × lightest", bounds.fill_impossible),
            format!(
                "{} ≥ {} × {} = {} g/cm³: {}",
                figure(bounds.at_most),
                bounds.fill_impossible,
                figure(lightest),
                figure(bounds.fill_impossible * lightest),
                if bounds.at_most >= bounds.fill_impossible * lightest { "it is not" } else { "it is" }
            ),
        ));
    }
}

/// Says what the second tests left of it.
fn looks(case: &Case<'_>, build: &Build<'_>, steps: &mut Vec<Step>) {
    for (method, look) in &case.looks {
        let away = look.distance(build);
        steps.push(Step::said(format!(
            "{}: {} u from what it would show, excluded from {EXCLUDES_AT} on",
            method.label(),
            figure(away)
        )));
    }
}

/// Says how much of the volume could be the core.
fn share(case: &Case<'_>, candidate: &Candidate, core: CoreShape, steps: &mut Vec<Step>) {
    let Some(thickness) = case.grounds.geometry.whole_thickness() else { return };
    let skin = core.skin;
    let (formula, numbers) = match case.grounds.geometry.face {
        Some(Face::Disc { diameter }) => (
            "s = (1 − 2t/d)² (1 − 2t/h)",
            format!("(1 − 2 × {skin:.3}/{})² (1 − 2 × {skin:.3}/{})", figure(diameter), figure(thickness)),
        ),
        Some(Face::Rectangle { length, width }) => (
            "s = (1 − 2t/l) (1 − 2t/w) (1 − 2t/h)",
            format!(
                "(1 − 2 × {skin:.3}/{}) (1 − 2 × {skin:.3}/{}) (1 − 2 × {skin:.3}/{})",
                figure(length),
                figure(width),
                figure(thickness)
            ),
        ),
        None => ("s = 1 − 2t/h", format!("1 − 2 × {skin:.3}/{}", figure(thickness))),
    };
    steps.push(Step::new(
        "share of the volume under a skin of t on all sides",
        formula,
        format!("{numbers} = {:.3}", candidate.hidden_share.unwrap_or(core.share)),
    ));
}

/// Says what it would displace in money.
fn money(case: &Case<'_>, candidate: &Candidate, build: &Build<'_>, steps: &mut Vec<Step>) {
    let (Some(money), Some(displacement)) = (candidate.displaced, case.trial.displacement(build.material))
    else {
        steps.push(Step::said("no price of the metal, or no mass: what it would displace is not known"));
        return;
    };
    let share = candidate.hidden_share.unwrap_or(1.0);
    steps.push(Step::new(
        "its share of the mass, times the fineness that is missing in it, at the price of the metal",
        "value = m × ρ_core s / (ρ_core s + ρ_skin (1 − s)) × missing fineness / 31.1034768 g × price",
        format!(
            "{} g × {} × {share:.3} / ({} × {share:.3} + {} × {:.3}) × {} / 31.1034768 g × {} = {money}",
            figure(displacement.mass),
            figure(displacement.core),
            figure(displacement.core),
            figure(displacement.skin),
            1.0 - share,
            figure(displacement.missing),
            displacement.price
        ),
    ));
}

/// Says whom it concerns.
fn concerns(case: &Case<'_>, candidate: &Candidate, steps: &mut Vec<Step>) {
    let policy = case.rules.policy;
    let pieces = case.trial.lot_size;
    let numbers = candidate.displaced.map_or_else(
        || "without a price every such candidate counts".to_owned(),
        |money| {
            let all = money.as_f64() * f64::from(pieces);
            format!("{money} a piece, {all:.2} {} on {pieces} pieces", policy.currency)
        },
    );
    let words = match candidate.material_doubt {
        Some(Scope::Piece) => "it is a doubt of the piece",
        Some(Scope::Lot) => {
            "it is a doubt of the lot: every piece alike could be so, and a sample settles it"
        }
        None => "it is a remark only: worth less than the policy's limits, or nobody would gain by it",
    };
    steps.push(Step::new(
        words,
        format!("piece: value > {}; lot: value × pieces > {}", policy.displaced_piece, policy.displaced_lot),
        numbers,
    ));
}

/// Says what excluded it.
fn excluded(exclusion: &Exclusion, steps: &mut Vec<Step>) {
    let step = match exclusion {
        Exclusion::TooLight { least, greatest } => Step::new(
            "mass over outline is a lower bound of the density, and the material does not reach it",
            format!("m / V − {EXCLUDES_AT} u > greatest density of the material"),
            format!("{least:.2} g/cm³ > {greatest:.2} g/cm³"),
        ),
        Exclusion::TooHeavy { fill } => Step::new(
            "a body of it with this mass would fill too little of the outline",
            "fill = m / (V ρ)",
            format!("{:.0} %", 100.0 * fill),
        ),
        Exclusion::Conductivity { value, distance, low, high } => Step::new(
            "it would read otherwise throughout",
            format!("d = gap / u, excluded from {EXCLUDES_AT} on"),
            format!("{value:.2} MS/m against {low:.2} to {high:.2} MS/m: d = {distance:.1}"),
        ),
        Exclusion::UnderAnySkin { distance } => Step::new(
            "under no skin would it read like this",
            format!("least d over all skins, excluded from {EXCLUDES_AT} on"),
            format!("d = {distance:.1}"),
        ),
        Exclusion::SecondTest { method, distance } if distance.is_finite() => Step::new(
            format!("a second test shows otherwise: {}", method.label()),
            format!("d = gap / u, excluded from {EXCLUDES_AT} on"),
            format!("d = {distance:.1}"),
        ),
        other => Step::said(other.to_string()),
    };
    steps.push(step);
}

/// Names where the figures of a candidate come from.
fn sources(case: &Case<'_>, material: &Material, made: &mut Explanation) {
    if let Some(measured) = case.trial.conductivity {
        let words =
            format!("conductivity {} MS/m at 20 °C, u = {} MS/m", figure(measured.value), figure(measured.u));
        made.sources.push(Source::new(words, Known::Measured));
    }
    if let Some(mass) = case.grounds.geometry.mass {
        made.sources.push(Source::new(format!("mass {} g", figure(mass.value)), Known::Measured));
    }
    let (own, density) = (&material.conductivity, &material.density);
    let conductivity = format!(
        "{}, {} to {} MS/m",
        material.name,
        figure(own.low.as_ms_per_m()),
        figure(own.high.as_ms_per_m())
    );
    made.sources.push(case.cited(&conductivity, own.mark.max(own.range_mark), &own.sources));
    let words = format!(
        "{}, {} to {} g/cm³",
        material.name,
        figure(density.low.as_g_per_cm3()),
        figure(density.high.as_g_per_cm3())
    );
    made.sources.push(case.cited(&words, density.mark.max(density.range_mark), &density.sources));
    if matches!(made.thing, Thing::Candidate(_, Construction::Core)) && case.trial.conductivity.is_some() {
        let coil = case.grounds.evidence.probe.as_ref().is_some_and(|probe| probe.coil.is_some());
        let model = if coil { "analytic coil over a layered half-space" } else { "plane wave over layers" };
        made.sources.push(Source::new(
            format!("what a core reads: {model}, good within {:.0} %", 100.0 * MODEL_SHARE),
            Known::Reference(Mark::Calculated),
        ));
    }
    if case.grounds.price.is_some() && case.trial.piece_mass().is_some() {
        made.sources.push(Source::new("price: see `price`", Known::Person));
        made.sources.push(case.policy("limits of the value at risk"));
    }
}

/// Says what would change it.
fn changes(candidate: &Candidate) -> Vec<String> {
    if candidate.survives {
        let mut changes =
            vec!["a second test whose numbers tell it from the declared piece: see the doubt".to_owned()];
        if candidate.construction == Construction::Core {
            changes.push("a probe of another frequency, or a smaller u".to_owned());
        }
        changes
    } else {
        vec!["a correction of the reading that excludes it".to_owned()]
    }
}
