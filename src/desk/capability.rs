//! What the instruments of the desk would do to a product, from typed texts; no book is needed.

use super::reach::{ReachRequest, Read, read};
use super::score::{ScoreError, probe_of};
use crate::evidence::Instruments;
use crate::reference::Catalogue;
use crate::scoring::{Capability, Policy, Rules, Simulation, Standards, capability, propose, reach};

/// Good pieces that teach the type book of the last state.
const TAUGHT_BY: u32 = 60;

/// What is simulated of a product.
#[derive(Debug, Clone, PartialEq)]
pub struct CapabilityRequest {
    /// The product, the probe and the rest.
    pub about: ReachRequest,
    /// Good pieces to draw.
    pub pieces: u32,
    /// Spots of conductivity on each.
    pub spots: u32,
    /// Where the draws start.
    pub seed: u64,
}

/// What the instruments would do, in each state of theirs.
#[derive(Debug, Clone, PartialEq)]
pub struct CapabilityView {
    /// Name of the product.
    pub product_name: String,
    /// States of the instruments, each named; the last is the best.
    pub cases: Vec<(String, Capability)>,
}

/// Simulates good pieces of a product: with the meter as it is before it was compared with a piece of the
/// alloy, after, and with a type book besides.
///
/// Without a probe the one that [`propose`] names is taken, else the first of the desk.
///
/// # Errors
/// As [`super::reach::reach_of`].
pub fn capability_of(
    request: &CapabilityRequest,
    catalogue: &Catalogue,
    instruments: &Instruments,
    policy: &Policy,
    standards: &Standards,
) -> Result<CapabilityView, ScoreError> {
    let Read { product, size, declared } = read(&request.about, catalogue, policy)?;
    let in_state = |compared: bool| {
        let mut instruments = instruments.clone();
        instruments.meter.compared_with_same_alloy = compared;
        instruments
    };
    let compared = in_state(true);
    let rules = Rules { catalogue, instruments: &compared, policy, standards };
    let probe = match &request.about.probe {
        Some(name) => probe_of(name, instruments)?,
        None => {
            let reaches = instruments
                .probes
                .iter()
                .map(|probe| reach(&rules, &declared, probe, &size, None))
                .collect::<Result<Vec<_>, _>>()?;
            let best = propose(&reaches).best.unwrap_or(0);
            instruments.probes.get(best).ok_or_else(|| ScoreError::UnknownProbe {
                found: "none".to_owned(),
                allowed: "the probes of the desk: it has none".to_owned(),
            })?
        }
    };
    let simulation = Simulation {
        probe,
        size,
        pieces: request.pieces,
        spots: request.spots,
        seed: request.seed,
        teach: 0,
    };
    let mut cases = Vec::new();
    let learned = format!("the same, and a type book of {TAUGHT_BY} pieces");
    for (name, compared, teach) in [
        ("meter never compared with this alloy", false, 0),
        ("meter compared and in control", true, 0),
        (&learned, true, TAUGHT_BY),
    ] {
        let instruments = in_state(compared);
        let rules = Rules { instruments: &instruments, ..rules };
        cases.push((name.to_owned(), capability(&rules, &declared, &Simulation { teach, ..simulation })?));
    }
    Ok(CapabilityView { product_name: product.name.clone(), cases })
}
