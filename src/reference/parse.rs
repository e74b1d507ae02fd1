//! Text of a reference file → records. Reports every mistake with its place, and keeps nothing of a faulty record.
//!
//! A file holds any of `[[source]]`, `[[material]]`, `[[product]]`, `[[caution]]`, `[[practice]]` and `[[worth]]`. What must hold between files (a
//! named source exists, a product's alloy exists) is checked by [`super::catalogue`].

use super::caution::{Caution, CautionKind};
use super::material::{Family, Found, Magnetism, Material, MaterialId, Metal};
use super::mistake::{Mistake, Place, Reason};
use super::practice::{BuiltAs, Practice, PracticeEntry, WorthEntry};
use super::product::{Kind, Origin, Product, ProductId, Shape};
use super::record::{Convert, Reader, Shown, Use};
use super::source::{Citation, Ranged, SourceId, Sourced, Specified};
use super::table::{Cell, Fields, OrReport, Page};
use crate::quantity::{Length, Mass};
use toml::de::DeTable;

/// Bounds of Poisson's ratio of an isotropic solid that is not auxetic.
const POISSON: (f64, f64) = (0.0, 0.5);
/// Bounds of a volume susceptibility that is not ferromagnetic.
const SUSCEPTIBILITY: (f64, f64) = (-0.001, 0.01);
/// Bounds of a year of issue.
const YEARS: (f64, f64) = (1200.0, 2200.0);
/// Bounds of what a kilogram of a base material costs, in any currency.
const PRICES: (f64, f64) = (0.001, 1e9);
/// The metals that a piece is declared to be of.
const DECLARED: &[&str] = &["gold", "silver", "platinum", "palladium"];

/// A record with the place where its id stands.
pub(super) struct Placed<T> {
    pub record: T,
    pub place: Place,
}

/// A product with the place of its alloy, which may turn out to be unknown when every file has been read.
pub(super) struct PlacedProduct {
    pub placed: Placed<Product>,
    pub alloy_place: Place,
}

/// What one file holds, and the mistakes found while reading it.
pub(super) struct Parsed {
    pub sources: Vec<Placed<Citation>>,
    pub materials: Vec<Placed<Material>>,
    pub products: Vec<PlacedProduct>,
    pub cautions: Vec<Caution>,
    pub practices: Vec<Placed<PracticeEntry>>,
    pub worths: Vec<Placed<WorthEntry>>,
    pub uses: Vec<Use>,
    /// Ids of all sources and materials that were begun, faulty ones included.
    pub declared: Vec<String>,
    pub mistakes: Vec<Mistake>,
}

/// Reads one file.
pub(super) fn file(name: &str, text: &str, origin: Origin) -> Parsed {
    let (document, errors) = DeTable::parse_recoverable(text);
    let mut reader = Reader { page: Page::new(name, text), uses: Vec::new(), declared: Vec::new() };
    let mut top = Fields::top(&document);
    let sources = reader.records(&mut top, "source").into_iter().filter_map(|f| reader.source(f)).collect();
    let materials =
        reader.records(&mut top, "material").into_iter().filter_map(|f| reader.material(f)).collect();
    let products =
        reader.records(&mut top, "product").into_iter().filter_map(|f| reader.product(f, origin)).collect();
    let cautions =
        reader.records(&mut top, "caution").into_iter().filter_map(|f| reader.caution(f)).collect();
    let practices =
        reader.records(&mut top, "practice").into_iter().filter_map(|f| reader.practice(f)).collect();
    let worths = reader.records(&mut top, "worth").into_iter().filter_map(|f| reader.worth(f)).collect();
    top.finish(&mut reader.page);
    if !errors.is_empty() {
        // What a line with a syntax mistake was meant to say is unknown, so that nothing may be called missing.
        reader.page.mistakes.retain(|mistake| !matches!(mistake.reason, Reason::MissingField { .. }));
        for error in errors {
            let message = error.message().replace('\n', ", ");
            reader.page.report(error.span().unwrap_or(0..0), Reason::Syntax { message });
        }
    }
    Parsed {
        sources,
        materials,
        products,
        cautions,
        practices,
        worths,
        uses: reader.uses,
        declared: reader.declared,
        mistakes: reader.page.mistakes,
    }
}

impl<'t> Reader<'t> {
    /// Returns the tables of an array such as `[[product]]`.
    fn records<'i>(&mut self, top: &mut Fields<'t, 'i>, field: &'static str) -> Vec<Fields<'t, 'i>> {
        let Some(cell) = top.optional(field) else { return Vec::new() };
        let Some(list) = cell.list().or_report(&cell.span, &mut self.page) else { return Vec::new() };
        list.filter_map(|member| member.fields().or_report(&member.span, &mut self.page)).collect()
    }

    /// Reads the id of a record and names the record by it in later messages.
    fn identity(&mut self, fields: &mut Fields<'t, '_>, kind: &'static str) -> Option<(&'t str, Place)> {
        fields.call(format!("this {kind}"));
        let cell = fields.required("id", &mut self.page)?;
        let id = cell.id().or_report(&cell.span, &mut self.page)?;
        fields.call(format!("{kind} `{id}`"));
        if kind != "product" {
            self.declared.push(id.to_owned());
        }
        Some((id, self.page.place(cell.span.start)))
    }

    fn text(&mut self, fields: &mut Fields<'t, '_>, field: &'static str) -> Option<String> {
        self.required(fields, field, |cell| cell.text().map(str::to_owned))
    }

    fn notes(&mut self, fields: &mut Fields<'t, '_>) -> String {
        let Some(cell) = fields.optional("notes") else { return String::new() };
        cell.text().or_report(&cell.span, &mut self.page).unwrap_or_default().to_owned()
    }

    fn source(&mut self, mut fields: Fields<'t, '_>) -> Option<Placed<Citation>> {
        let identity = self.identity(&mut fields, "source");
        let text = self.text(&mut fields, "citation");
        let mark = self.mark(&mut fields);
        fields.finish(&mut self.page);
        let (id, place) = identity?;
        Some(Placed { record: Citation { id: SourceId::new(id), text: text?, mark: mark? }, place })
    }

    fn caution(&mut self, mut fields: Fields<'t, '_>) -> Option<Caution> {
        fields.call("this caution".to_owned());
        let kind = self.required(&mut fields, "kind", |c| c.word(CautionKind::from_word, CautionKind::WORDS));
        let place = self.text(&mut fields, "place");
        let topic = self.text(&mut fields, "topic");
        let text = self.text(&mut fields, "text");
        let source = self.text(&mut fields, "source");
        let mark = self.mark(&mut fields);
        fields.finish(&mut self.page);
        Some(Caution { kind: kind?, place: place?, topic: topic?, text: text?, source: source?, mark: mark? })
    }

    /// Reads the material that a record of the watch list is about, with its place.
    fn watched(&mut self, fields: &mut Fields<'t, '_>) -> Option<(MaterialId, Place)> {
        let cell = fields.required("material", &mut self.page)?;
        let id = cell.id().or_report(&cell.span, &mut self.page)?;
        Some((MaterialId::new(id), self.page.place(cell.span.start)))
    }

    fn practice(&mut self, mut fields: Fields<'t, '_>) -> Option<Placed<PracticeEntry>> {
        let f = &mut fields;
        f.call("this practice".to_owned());
        let metal = self.required(f, "metal", |c| c.word(declared_metal, DECLARED));
        let built = self.required(f, "built", |c| c.word(BuiltAs::from_word, BuiltAs::WORDS));
        let watched = self.watched(f);
        let class = self.required(f, "class", |c| c.word(Practice::from_word, Practice::WORDS));
        let mark = self.mark(f);
        let sources = self.sources(f);
        fields.finish(&mut self.page);
        let (material, place) = watched?;
        let (metal, built, class) = (metal?, built?, class?);
        let record = PracticeEntry { metal, built, material, class, mark: mark?, sources: sources? };
        Some(Placed { record, place })
    }

    fn worth(&mut self, mut fields: Fields<'t, '_>) -> Option<Placed<WorthEntry>> {
        let f = &mut fields;
        f.call("this worth".to_owned());
        let watched = self.watched(f);
        let per_kg = self.required(f, "per_kg", |c| c.number(PRICES.0, PRICES.1));
        let mark = self.mark(f);
        let sources = self.sources(f);
        fields.finish(&mut self.page);
        let (material, place) = watched?;
        let per_kg = Sourced { value: per_kg?, mark: mark?, sources: sources? };
        Some(Placed { record: WorthEntry { material, per_kg }, place })
    }

    fn material(&mut self, mut fields: Fields<'t, '_>) -> Option<Placed<Material>> {
        let f = &mut fields;
        let identity = self.identity(f, "material");
        let name = self.text(f, "name");
        let family = self.required(f, "family", |c| c.word(Family::from_word, Family::WORDS));
        let metal = self.required(f, "metal", |c| c.word(Metal::from_word, Metal::WORDS));
        let fineness_cell = f.optional("fineness");
        let fineness = fineness_cell.as_ref().and_then(|cell| self.ranged(cell, |c| c.quantity()));
        let density = self.required_ranged(f, "density", |c| c.quantity());
        let conductivity = self.required_ranged(f, "conductivity", |c| c.quantity());
        let temperature_coefficient =
            f.optional("temperature_coefficient").and_then(|cell| self.ranged(&cell, |c| c.quantity()));
        let sound_velocity = self.required_ranged(f, "sound_velocity", |c| c.quantity());
        let youngs_modulus = self.required_ranged(f, "youngs_modulus", |c| c.quantity());
        let poisson_ratio = self.required_ranged(f, "poisson_ratio", |c| c.number(POISSON.0, POISSON.1));
        let magnetism = f
            .required("magnetism", &mut self.page)
            .and_then(|cell| self.sourced(&cell, |c| c.word(Magnetism::from_word, Magnetism::WORDS)));
        let susceptibility = f
            .optional("susceptibility")
            .and_then(|cell| self.sourced(&cell, |c| c.number(SUSCEPTIBILITY.0, SUSCEPTIBILITY.1)));
        let found = self.found(f);
        let notes = self.notes(f);
        let span = f.span.clone();
        fields.finish(&mut self.page);
        let ((id, place), metal) = (identity?, metal?);
        if fineness_cell.is_some() == (metal == Metal::Other) {
            let expected = if metal == Metal::Other { "not allowed" } else { "required" };
            let reason =
                Reason::FinenessAndMetal { material: id.to_owned(), metal: metal.as_str(), expected };
            self.page.report(fineness_cell.map_or(span, |cell| cell.span), reason);
        }
        let record = Material {
            id: MaterialId::new(id),
            name: name?.into(),
            family: family?,
            metal,
            fineness,
            density: density?,
            conductivity: conductivity?,
            temperature_coefficient,
            sound_velocity: sound_velocity?,
            youngs_modulus: youngs_modulus?,
            poisson_ratio: poisson_ratio?,
            magnetism: magnetism?,
            susceptibility,
            found,
            notes,
        };
        Some(Placed { record, place })
    }

    fn required_ranged<'i, T: Shown>(
        &mut self,
        fields: &mut Fields<'t, 'i>,
        field: &'static str,
        convert: Convert<'t, 'i, T>,
    ) -> Option<Ranged<T>> {
        let cell = fields.required(field, &mut self.page)?;
        self.ranged(&cell, convert)
    }

    /// Reads `found = [{ field, source, printed, mark }, …]`; a material may have none.
    fn found(&mut self, fields: &mut Fields<'t, '_>) -> Vec<Found> {
        let Some(cell) = fields.optional("found") else { return Vec::new() };
        let Some(list) = cell.list().or_report(&cell.span, &mut self.page) else { return Vec::new() };
        list.filter_map(|member| self.found_one(&member)).collect()
    }

    fn found_one(&mut self, cell: &Cell<'t, '_>) -> Option<Found> {
        let mut fields = cell.fields().or_report(&cell.span, &mut self.page)?;
        let field = self.required(&mut fields, "field", |c| c.word(measured_field, MEASURED));
        let source = fields
            .required("source", &mut self.page)
            .and_then(|cell| Some((cell.id().or_report(&cell.span, &mut self.page)?, cell)))
            .map(|(id, cell)| self.used(id, &cell));
        let printed = self.text(&mut fields, "printed");
        let mark = self.mark(&mut fields);
        fields.finish(&mut self.page);
        Some(Found { field: field?.to_owned(), source: source?, printed: printed?, mark: mark? })
    }

    fn product(&mut self, mut fields: Fields<'t, '_>, origin: Origin) -> Option<PlacedProduct> {
        let f = &mut fields;
        let identity = self.identity(f, "product");
        let kind = self.required(f, "kind", |c| c.word(Kind::from_word, Kind::WORDS));
        let name = self.text(f, "name");
        let authority = self.text(f, "authority");
        let [year, last_struck] = ["year", "last_struck"].map(|field| {
            let cell = f.optional(field)?;
            cell.number(YEARS.0, YEARS.1).or_report(&cell.span, &mut self.page).map(|year| year as u16)
        });
        let mark = self.mark(f);
        let sources = self.sources(f);
        let metal = self.required(f, "metal", |c| c.word(Metal::from_word, Metal::WORDS));
        let shape = self.required(f, "shape", |c| c.word(Shape::from_word, Shape::WORDS));
        let fineness = f.required("fineness", &mut self.page).and_then(|cell| self.specified(&cell));
        let alloy = f.required("alloy", &mut self.page).and_then(|cell| {
            let alloy = self.sourced(&cell, |c| c.id().map(MaterialId::new))?;
            Some((alloy, self.page.place(cell.span.start)))
        });
        let mass: Option<Specified<Mass>> = f.optional("mass").and_then(|cell| self.specified(&cell));
        let mass_range = f.optional("mass_range").and_then(|cell| self.bounds(&cell, |c| c.quantity()));
        let fine_cell = f.optional("fine_content");
        let fine_content: Option<Specified<Mass>> = fine_cell.as_ref().and_then(|cell| self.specified(cell));
        let fine_content_range =
            f.optional("fine_content_range").and_then(|cell| self.bounds(&cell, |c| c.quantity()));
        let weighing_step =
            f.optional("weighing_step").and_then(|cell| self.sourced(&cell, |c| c.quantity()));
        let least_current_mass =
            f.optional("least_current_mass").and_then(|cell| self.sourced(&cell, |c| c.quantity()));
        let diameter = self.dimension(f, "diameter", shape.filter(|shape| *shape != Shape::Round));
        let thickness = self.dimension(f, "thickness", None);
        let length = self.dimension(f, "length", shape.filter(|shape| *shape == Shape::Round));
        let width = self.dimension(f, "width", shape.filter(|shape| *shape == Shape::Round));
        let notes = self.notes(f);
        fields.finish(&mut self.page);
        if let (Some(cell), Some(fine), Some(mass)) = (&fine_cell, &fine_content, &mass)
            && fine.nominal.value > mass.nominal.value
        {
            let reason = Reason::FineAboveGross {
                fine: fine.nominal.value.shown(),
                gross: mass.nominal.value.shown(),
            };
            self.page.report(cell.span.clone(), reason);
        }
        let ((id, place), (alloy, alloy_place)) = (identity?, alloy?);
        let record = Product {
            id: ProductId::new(id),
            kind: kind?,
            name: name?,
            authority: authority?,
            year,
            last_struck,
            mark: mark?,
            sources: sources?,
            origin,
            metal: metal?,
            shape: shape?,
            fineness: fineness?,
            alloy,
            mass,
            mass_range,
            fine_content,
            fine_content_range,
            weighing_step,
            least_current_mass,
            diameter,
            thickness,
            length,
            width,
            notes,
        };
        Some(PlacedProduct { placed: Placed { record, place }, alloy_place })
    }

    /// Reads a dimension, and reports it when the product's shape has no such dimension.
    fn dimension(
        &mut self,
        fields: &mut Fields<'t, '_>,
        field: &'static str,
        stranger: Option<Shape>,
    ) -> Option<Specified<Length>> {
        let cell = fields.optional(field)?;
        if let Some(shape) = stranger {
            let reason = Reason::NotOfThisShape { field, shape: shape.as_str() };
            self.page.report(cell.span.clone(), reason);
        }
        self.specified(&cell)
    }
}

/// Names of the fields of a material that sources print.
const MEASURED: &[&str] = &[
    "density",
    "conductivity",
    "temperature_coefficient",
    "sound_velocity",
    "youngs_modulus",
    "poisson_ratio",
    "magnetism",
];

fn measured_field(word: &str) -> Option<&'static str> {
    MEASURED.iter().copied().find(|field| *field == word)
}

fn declared_metal(word: &str) -> Option<Metal> {
    Metal::from_word(word).filter(|metal| *metal != Metal::Other)
}
