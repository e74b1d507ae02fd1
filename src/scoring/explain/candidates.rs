//! What a piece could still be, and what it cannot be: what each candidate would read, weigh, hide and be worth.

use super::super::assessment::{Candidate, Construction, Scope};
use super::super::density::density_of;
use super::super::exclusion::Exclusion;
use super::super::geometry::{Face, Measured};
use super::super::second::{EXCLUDES_AT, Range, distance};
use super::super::tables::MODEL_SHARE;
use super::{Case, Explanation, Known, Source, Step, Thing, figure};
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
        cause: None,
        result: format!("{price} a troy ounce ({} g)", Mass::TROY_OUNCE.as_grams()),
        sources: vec![Source::new(format!("{price}, typed with `scruple price {metal}`"), Known::Person)],
        changes: vec![format!(
            "a new price, then scoring the lot again: `scruple price {metal} AMOUNT`, `scruple rescore LOT`"
        )],
    })
}

/// Explains one candidate; `None` for one that the reference does not hold any more.
fn one(case: &Case<'_>, candidate: &Candidate) -> Option<Explanation> {
    let material = case.catalogue().material(candidate.material.as_str())?;
    let mut made = Explanation {
        thing: Thing::Candidate(candidate.material.clone(), candidate.construction),
        title: title(candidate),
        steps: Vec::new(),
        result: result(candidate),
        cause: None,
        sources: Vec::new(),
        changes: Vec::new(),
    };
    match &candidate.excluded_by {
        Some(exclusion) => excluded(exclusion, &mut made.steps),
        None => {
            let cell = cell_of(case, candidate)?;
            conductivity(case, cell, &mut made.steps);
            density(case, cell, &mut made.steps);
            looks(case, cell, &mut made.steps);
            if candidate.construction == Construction::Core {
                share(case, cell, &mut made.steps);
            }
            money(case, candidate, cell, &mut made.steps);
            concerns(case, candidate, cell, &mut made.steps);
        }
    }
    sources(case, material, &mut made);
    made.changes = changes(candidate);
    Some(made)
}

/// Returns the cell of a candidate that counts: of a core the one under the thinnest skin that is left, where it hides most.
fn cell_of(case: &Case<'_>, candidate: &Candidate) -> Option<usize> {
    let grid = &case.standard.grid;
    let materials = case.catalogue().all_materials();
    let entry = grid.entries.iter().find(|entry| {
        entry.built == candidate.construction && materials[entry.material].id == candidate.material
    })?;
    match (candidate.construction, candidate.skins.first()) {
        (Construction::Core, Some((from, _))) => {
            let gap = |cell: &usize| (grid.thin[*cell] - from.as_millimetres()).abs();
            entry.cells.clone().min_by(|a, b| gap(a).total_cmp(&gap(b)))
        }
        (Construction::Core, None) => None,
        _ => entry.cells.clone().next_back(),
    }
}

fn title(candidate: &Candidate) -> String {
    let built = match candidate.construction {
        Construction::Solid => "throughout",
        Construction::Core => "as a core under a skin",
        Construction::Insert => "let in beside the measuring points",
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
        None => "not watched for, it holds nothing",
    };
    format!("not excluded: {share}{money}; {concern}")
}

/// Says what it would read, and how far that is from the reading.
fn conductivity(case: &Case<'_>, cell: usize, steps: &mut Vec<Step>) {
    let grid = &case.standard.grid;
    let Some(measured) = case.trial.conductivity else {
        steps.push(Step::said("conductivity: no usable reading, so it excludes nothing"));
        return;
    };
    let range = grid.reads.at(cell);
    if range.low == f64::NEG_INFINITY {
        let why = case.trial.outside_model();
        let why = why.unwrap_or_else(|| "it lies beside the measuring points".to_owned());
        steps.push(Step::said(format!("conductivity does not speak about it: {why}")));
        return;
    }
    let (model, under) = if cell < grid.solids {
        (0.0, String::new())
    } else {
        let (thin, thick) = (grid.thin[cell], grid.thick[cell]);
        (
            MODEL_SHARE,
            format!(" under {thin:.3} to {thick:.3} mm of the declared alloy, the thinnest that is left"),
        )
    };
    steps.push(Step::said(format!(
        "it would read {} to {} MS/m{under}; the reading is {} MS/m with u = {} MS/m",
        figure(range.low),
        figure(range.high),
        figure(measured.value),
        figure(measured.u)
    )));
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

/// Says what mass and size allow.
fn density(case: &Case<'_>, cell: usize, steps: &mut Vec<Step>) {
    let Some(envelope) = case.grounds.geometry.envelope_density else {
        steps.push(Step::said("mass and size: not both measured, so density excludes nothing"));
        return;
    };
    let range = case.standard.grid.density.at(cell);
    let typed =
        case.standard.fill.as_ref().and_then(|fill| Some((fill, density_of(&case.grounds.geometry, fill)?)));
    match typed {
        Some((fill, measured)) => {
            steps.push(Step::new(
                "pieces of one type share their dies, so they fill the same share of their envelope: that gives the density",
                "ρ = m / (V F), u² = u(m/V)² + scatter of F²",
                format!(
                    "{} / {} = {} g/cm³, u = {} g/cm³; such a body has {} to {} g/cm³",
                    figure(envelope.value),
                    figure(fill.fill),
                    figure(measured.value),
                    figure(measured.u),
                    figure(range.low),
                    figure(range.high)
                ),
            ));
            steps.push(far(measured, range, 0.0));
        }
        None => steps.push(Step::new(
            "mass over the volume of the outline is a lower bound of the density: the densest such body must reach it",
            format!("greatest density ≥ m / V − {EXCLUDES_AT} u"),
            format!(
                "{} ≥ {} − {EXCLUDES_AT} × {} g/cm³",
                figure(range.high),
                figure(envelope.value),
                figure(envelope.u)
            ),
        )),
    }
}

/// Says what the second tests left of it.
fn looks(case: &Case<'_>, cell: usize, steps: &mut Vec<Step>) {
    let grid = &case.standard.grid;
    let entry = grid.entry_of(cell);
    let Some(ends) = grid.ends(case.catalogue(), &case.grounds.geometry, entry, cell) else { return };
    for (method, look) in &case.looks {
        steps.push(Step::said(format!(
            "{}: {} u from what it would show, excluded from {EXCLUDES_AT} on",
            method.label(),
            figure(look.distance_of_cell(&ends, entry.built))
        )));
    }
}

/// Says how much of the volume could be the core.
fn share(case: &Case<'_>, cell: usize, steps: &mut Vec<Step>) {
    let Some(thickness) = case.standard.geometry.whole_thickness() else { return };
    let skin = case.standard.grid.thin[cell];
    let (formula, numbers) = match case.standard.geometry.face {
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
    let share = case.standard.grid.share[cell];
    let words = "share of the volume under a skin of t on all sides, for pieces of this product";
    steps.push(Step::new(words, formula, format!("{numbers} = {share:.3}")));
}

/// Says what it would displace in money.
fn money(case: &Case<'_>, candidate: &Candidate, cell: usize, steps: &mut Vec<Step>) {
    let (Some(money), Some(value)) = (candidate.displaced, case.standard.value) else {
        steps.push(Step::said("no price of the metal, or no mass: what it would displace is not known"));
        return;
    };
    let grid = &case.standard.grid;
    steps.push(Step::new(
        "share of the fine metal that it lacks, times the value of the fine metal in such a piece",
        "value = mass share × missing fineness / fineness × metal value",
        format!(
            "{} of the mass is other stuff, {} of the fine metal is missing; {} × {value:.2} {} = {money} at most",
            figure(grid.mass_share[cell]),
            figure(grid.displaced[cell]),
            figure(grid.displaced[cell]),
            money.currency
        ),
    ));
}

/// Says whether it is watched for, whether it pays, and whom it concerns.
fn concerns(case: &Case<'_>, candidate: &Candidate, cell: usize, steps: &mut Vec<Step>) {
    let watch = &case.rules.policy.watch;
    let grid = &case.standard.grid;
    let practice = grid.entry_of(cell).practice;
    let class = if watch.holds(practice) { "watched for" } else { "not watched for" };
    steps.push(Step::said(format!("pieces built so are {practice} by the watch list: {class}")));
    if let Some(value) = case.standard.value {
        let grams = case.trial.piece_mass().unwrap_or(0.0);
        let making = watch.making(candidate.construction, case.declared.product.kind, grams, grid.thin[cell]);
        let own = grid.mass_share[cell] * grams / 1000.0 * grid.per_kg[cell];
        let gain = grid.displaced[cell] * value - own - making;
        let share =
            if candidate.construction == Construction::Solid { watch.solid_share } else { watch.core_share };
        steps.push(Step::new(
            "what it gains whoever makes it",
            format!(
                "displaced − substitute − making ≥ {:.0} % of the metal, or ≥ {}",
                100.0 * share,
                watch.stake
            ),
            format!(
                "{:.2} − {own:.2} − {making:.2} = {gain:.2}, {:.0} % of {value:.2}",
                grid.displaced[cell] * value,
                100.0 * gain / value
            ),
        ));
    }
    steps.push(Step::said(match candidate.material_doubt {
        Some(Scope::Piece) => "it is a doubt of the piece: a good piece hardly ever leaves it open",
        Some(Scope::Lot) => {
            "it is a doubt of the lot: every piece alike leaves it open with this probe, and a sample settles it"
        }
        None => "it is no doubt: the desk does not watch for it, or it does not pay",
    }));
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
        Exclusion::TypeDensity { value, u, distance, low, high } => Step::new(
            "mass and size, with the share of its envelope that such a piece fills, give another density",
            format!("d = gap / u, excluded from {EXCLUDES_AT} on"),
            format!("{value:.2} g/cm³ with u {u:.2} against {low:.2} to {high:.2} g/cm³: d = {distance:.1}"),
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
