//! What a probe proves on a product, from typed texts; no book is needed.

use super::capability::{CapabilityRequest, CapabilityView, capability_of};
use super::score::{ScoreError, price_of, probe_of, product_of, value};
use super::show::prices;
use super::{AppError, Desk};
use crate::evidence::{Instruments, Probe};
use crate::reference::{Catalogue, Product};
use crate::scoring::{Declared, PieceSize, Policy, Proposal, Reach, Rules, Standards, propose, reach};

/// What somebody typed about a product; an empty option was not given.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReachRequest {
    /// Product id.
    pub product: String,
    /// Name of a probe of the desk; without it all are compared.
    pub probe: Option<String>,
    /// Diameter of the piece.
    pub diameter: Option<String>,
    /// Longer side.
    pub length: Option<String>,
    /// Shorter side.
    pub width: Option<String>,
    /// Thickness.
    pub thickness: Option<String>,
    /// Depth at which a core should show.
    pub depth: Option<String>,
    /// Price of a troy ounce of the fine metal.
    pub price: Option<String>,
    /// Pieces of the lot, at least 1.
    pub lot_size: u32,
}

/// What the probes prove.
#[derive(Debug, Clone, PartialEq)]
pub struct ReachView {
    /// Name of the product.
    pub product_name: String,
    /// One entry for each probe asked about.
    pub reaches: Vec<Reach>,
    /// The probe to take, when all were compared.
    pub proposal: Option<Proposal>,
}

/// What the instruments of a desk would do to a product.
#[derive(Debug, Clone, PartialEq)]
pub struct Prospect {
    /// What the probe proves, or all of them.
    pub reach: ReachView,
    /// What becomes of good pieces.
    pub capability: CapabilityView,
}

/// Good pieces that a prospect simulates, and where the draws start.
const PROSPECT_PIECES: u32 = 400;
const PROSPECT_SEED: u64 = 1;

impl Desk {
    /// Says what a probe of the desk, or each of them, would do to a product at the price of the day: what it proves in depth, and
    /// the share of good pieces that would be held.
    ///
    /// # Errors
    /// `Usage` for a product or probe that is not known, and where a product needs measures that it does not specify.
    pub fn prospect(&self, product: &str, probe: Option<&str>) -> Result<Prospect, AppError> {
        let setup = &self.setup;
        let known = setup.catalogue.product(product);
        let price = known.and_then(|product| prices(self.store.read()).ok()?.get(&product.metal).copied());
        let about = ReachRequest {
            product: product.to_owned(),
            probe: probe.map(str::to_owned),
            price: price.map(|price| price.to_string()),
            lot_size: 1,
            ..ReachRequest::default()
        };
        let (catalogue, instruments, policy) = (&setup.catalogue, &setup.instruments, &setup.policy);
        let reach = reach_of(&about, catalogue, instruments, policy, &setup.standards)?;
        let request = CapabilityRequest { about, pieces: PROSPECT_PIECES, spots: 1, seed: PROSPECT_SEED };
        let capability = capability_of(&request, catalogue, instruments, policy, &setup.standards)?;
        Ok(Prospect { reach, capability })
    }
}

/// A request as read.
pub(super) struct Read<'a> {
    pub(super) product: &'a Product,
    pub(super) size: PieceSize,
    pub(super) declared: Declared<'a>,
}

/// Reads what was typed about a product.
pub(super) fn read<'a>(
    request: &ReachRequest,
    catalogue: &'a Catalogue,
    policy: &Policy,
) -> Result<Read<'a>, ScoreError> {
    let product = product_of(&request.product, catalogue)?;
    let length =
        |option, text: &Option<String>| Ok::<_, ScoreError>(value(option, text)?.map(|entry| entry.value));
    let size = PieceSize {
        diameter: length("diameter", &request.diameter)?,
        length: length("length", &request.length)?,
        width: length("width", &request.width)?,
        thickness: length("thickness", &request.thickness)?,
    };
    let price = price_of(request.price.as_deref(), policy)?;
    Ok(Read {
        product,
        size,
        declared: Declared {
            product,
            price,
            lot_size: request.lot_size.max(1),
            source: None,
            type_book: None,
        },
    })
}

/// Says what one probe proves, or compares all probes of the desk.
///
/// # Errors
/// The first thing that cannot be read or is not known, naming its option.
pub fn reach_of(
    request: &ReachRequest,
    catalogue: &Catalogue,
    instruments: &Instruments,
    policy: &Policy,
    standards: &Standards,
) -> Result<ReachView, ScoreError> {
    let Read { product, size, declared } = read(request, catalogue, policy)?;
    let depth = value("depth", &request.depth)?.map(|entry| entry.value);
    let rules = Rules { catalogue, instruments, policy, standards };
    let probes: Vec<&Probe> = match &request.probe {
        Some(name) => vec![probe_of(name, instruments)?],
        None => instruments.probes.iter().collect(),
    };
    let reaches = probes
        .into_iter()
        .map(|probe| reach(&rules, &declared, probe, &size, depth))
        .collect::<Result<Vec<_>, _>>()?;
    let proposal = request.probe.is_none().then(|| propose(&reaches));
    Ok(ReachView { product_name: product.name.clone(), reaches, proposal })
}
