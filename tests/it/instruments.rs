//! The register of instruments, and the budgets that follow from it.

use super::bench::{Bench, SILVER};
use super::cli::{Call, write};
use scruple::desk::{ErrorKind, PolicyOrigin};
use scruple::evidence::{InstrumentKind, Instruments, Measurand};
use scruple::quantity::{Length, Mass};
use scruple::scoring::{DoubtKind, Outcome, Standing};

/// The register of an invented desk: two scales, a calliper, a micrometer, a meter, a thermometer, reference pieces.
pub const REGISTER: &str = r#"
[[instrument]]
name = "bench scale"
kind = "scale"
digit_step = "0.01 g"
repeatability = "0.004 g"
limit_by = "OIML R 76-1"
class = "II"
e = "0.01 g"
max = "600 g"
due = 2027-02-01

[[instrument]]
name = "fine scale"
kind = "scale"
digit_step = "0.001 g"
repeatability = "0.0005 g"
certificate = { number = "C-12", date = "2026-02-01", U = "0.002 g", k = 2 }

[[instrument]]
name = "long calliper"
kind = "calliper"
digit_step = "0.01 mm"
repeatability = "0.005 mm"
limit_by = "DIN 862"

[[instrument]]
name = "rim micrometer"
kind = "micrometer"
in_use_for = ["thickness"]
digit_step = "0.001 mm"
repeatability = "0.001 mm"
limit_by = "DIN 863-1"
range_to = "25 mm"

[[instrument]]
name = "meter one"
kind = "meter"
digit_step = "0.1 MS/m"
repeatability = "0.3 %"
certificate = { number = "C-77", date = "February 2026", U = "0.6 %", k = 2 }
compared_with_same_alloy = true

[[instrument]]
name = "glass thermometer"
kind = "thermometer"
standard_uncertainty = "0.3 K"

[[probe]]
name = "flat"
frequency = "60 kHz"
coil_inner = "4 mm"
coil_outer = "7 mm"
lift_off_range = "1.0 mm"
standardised = "at-temperature"

[[probe]]
name = "pencil"
frequency = "60 kHz"
coil_inner = "2 mm"
coil_outer = "4 mm"
lift_off_range = "0.5 mm"
standardised = "at-temperature"
"#;

#[test]
fn a_register_gives_each_reading_its_instrument() {
    let desk = Instruments::parse("r.toml", REGISTER).unwrap();
    let name = |of| desk.name_for(of);
    assert_eq!(name(Measurand::Mass), Some("bench scale"));
    assert_eq!(name(Measurand::Diameter), Some("long calliper"));
    assert_eq!(name(Measurand::Thickness), Some("rim micrometer"));
    assert_eq!(name(Measurand::Conductivity), Some("meter one"));
    assert_eq!(name(Measurand::Temperature), Some("glass thermometer"));
    // OIML R 76-1:2006, table 6, class II, e = 0.01 g: 0.5 e up to 5000 e, in service twice that.
    assert_eq!(desk.scale.limit_at(Mass::from_grams(31.1)), Some(Mass::from_grams(0.01)));
    // DIN 863-1: 4 µm for a range to 25 mm.
    let rim = desk.for_length(Measurand::Thickness);
    assert_eq!(rim.limit_at(Length::from_millimetres(2.98)), Some(Length::from_millimetres(0.004)));
    let fine = desk.using(&[(Measurand::Mass, "fine scale".to_owned())]);
    assert_eq!(fine.name_for(Measurand::Mass), Some("fine scale"));
    assert_eq!(fine.name_for(Measurand::Thickness), Some("rim micrometer"));
}

#[test]
fn what_a_register_leaves_out_stays_assumed() {
    let scale = &REGISTER[..REGISTER.find("[[instrument]]\nname = \"fine").unwrap()];
    let desk = Instruments::parse("r.toml", scale).unwrap();
    assert_eq!(desk.name_for(Measurand::Mass), Some("bench scale"));
    assert_eq!(desk.name_for(Measurand::Conductivity), None);
    assert_eq!(desk.meter, Instruments::built_in().meter);
}

#[test]
fn a_probe_of_several_frequencies_is_one_probe_for_each() {
    let text = format!(
        "{REGISTER}
[[probe]]
name = \"twin\"
frequencies = [\"60 kHz\", \"2 kHz\"]
coil_inner = \"6 mm\"
coil_outer = \"14 mm\"
coil_length = \"3 mm\"
edge_distance = \"16 mm\"
"
    );
    let desk = Instruments::parse("r.toml", &text).unwrap();
    let names: Vec<&str> = desk.probes.iter().map(|probe| probe.name.as_str()).collect();
    assert_eq!(names, ["flat", "pencil", "twin 60 kHz", "twin 2 kHz"]);
    let deep = desk.probe("twin 2 kHz").unwrap();
    assert_eq!(deep.frequency.unwrap().as_hertz(), 2_000.0);
    assert_eq!(deep.coil.unwrap().length, Some(Length::from_millimetres(3.0)));
    assert_eq!(deep.edge_distance, Some(Length::from_millimetres(16.0)));
    let wrong = |from: &str, to: &str| {
        let error = Instruments::parse("r.toml", &text.replace(from, to)).unwrap_err().to_string();
        assert!(error.contains("twin"), "{error}");
        error
    };
    assert!(wrong("\"2 kHz\"", "\"60 kHz\"").contains("a list of different ones"));
    assert!(wrong("frequencies = [", "frequency = \"2 kHz\"\nfrequencies = [").contains("not both"));
    assert!(
        wrong("coil_length = \"3 mm\"", "coil_length = \"0 mm\"").contains("coil_length must be above zero")
    );
    assert!(wrong("\"16 mm\"", "\"0 mm\"").contains("edge_distance must be above zero"));
}

#[test]
fn every_mistake_is_told_by_file_field_and_line() {
    let text = r#"
[[instrument]]
name = "one"
kind = "balance"

[[instrument]]
name = "two"
kind = "scale"
repeatability = "0.004 mm"
limit_by = "DIN 862"
due = "soon"
colour = "grey"

[[instrument]]
name = "TWO"
kind = "meter"
repeatability = "0.3"
in_use_for = ["mass"]

[[probe]]
name = "pencil"
coil_inner = "4 mm"
coil_outer = "2 grams"

[[reference]]
name = "block"
mass = "100 g"
conductivity = "58 MS/m"
instruments = ["three"]

[[reference]]
name = "weight"
mass = "3 g"
weight_class = "F1"
"#;
    let found = Instruments::parse("mine.toml", text).unwrap_err().to_string();
    let expected = [
        "mine.toml:4:8: `kind`: `balance` is not one of `scale`, `calliper`, `micrometer`, `meter`, `ultrasound`, \
         `thermometer`",
        "mine.toml:9:17: `repeatability`: mass `0.004 mm`: unit `mm` is not one of",
        "mine.toml:10:12: `limit_by`: `DIN 862` is not one of `OIML R 76-1`",
        "mine.toml:11:7: `due`: `soon` is not a day such as `2026-11-25`",
        "mine.toml:12:1: `colour` is not a field here; allowed are `name`, `kind`, `due`, `in_use_for`",
        "mine.toml:15:8: instrument `TWO` stands already at mine.toml:7:8",
        "mine.toml:17:17: `repeatability`: `0.3` has no unit; allowed are `%`",
        "mine.toml:18:15: `in_use_for`: `mass` is not one of `conductivity`",
        "mine.toml:23:14: `probe pencil: coil_outer`: length `2 grams`: unit `grams` is not one of",
        "mine.toml:25:1: reference `block` takes exactly one of `mass`, `length`, `conductivity`",
        "mine.toml:29:16: `instruments`: nothing here is called `three`; closest: `one`, `two`",
        "mine.toml:33:8: `mass`: 3 g is out of range; allowed is 1 g to 200 g, one of 1, 2, 5, 10, 20, 50, 200 g",
    ];
    let lines: Vec<&str> = found.lines().collect();
    assert_eq!(lines.len(), expected.len(), "{found}");
    for (line, expected) in lines.iter().zip(expected) {
        assert!(line.starts_with(expected), "{line}\n  is not\n{expected}");
    }
}

#[test]
fn a_weight_by_its_class_has_the_uncertainty_of_its_limit() {
    // OIML R 111-1:2004, table 1: 100 g is not held here; 200 g, F1: 1.0 mg; as the half width of a rectangle u = 1.0 mg/√3.
    let text = "[[reference]]\nname = \"w\"\nmass = \"200 g\"\nweight_class = \"F1\"\n";
    let desk = Instruments::parse("r.toml", text).unwrap();
    let weight = desk.register.reference("W").unwrap();
    assert_eq!(weight.k, 2.0);
    assert!((weight.expanded.value() - 2.0 * 0.001 / 3f64.sqrt()).abs() < 1e-9);
}

#[test]
fn a_register_set_in_the_book_counts_on_every_machine_and_only_an_owner_sets_it() {
    let mut bench = Bench::new();
    assert_eq!(bench.desk().register_view().unwrap().origin, PolicyOrigin::Desk);
    let view = bench.desk().set_register("r.toml", REGISTER).unwrap();
    assert_eq!(view.origin, PolicyOrigin::Book);
    assert_eq!(view.instruments.len(), 6);
    let other = bench.other_desk("TILDA");
    assert_eq!(other.instruments().name_for(Measurand::Mass), Some("bench scale"));
    let chosen = bench.desk().use_instrument("FINE scale", &[]).unwrap();
    assert_eq!((chosen.name.as_str(), chosen.in_use_for.as_slice()), ("fine scale", &[Measurand::Mass][..]));
    assert_eq!(bench.other_desk("TILDA").instruments().name_for(Measurand::Mass), Some("fine scale"));
    let error = bench.desk().use_instrument("fine scale", &[Measurand::Thickness]).unwrap_err();
    assert_eq!(error.message, "`fine scale`, a scale, does not take `thickness`; it takes `mass`");
    let error = bench.desk().use_instrument("old scale", &[]).unwrap_err();
    assert!(error.message.starts_with("instrument `old scale` is not one of `bench scale`, `fine scale`"));
    bench.desk().add_operator("MIRA", scruple::desk::Role::Owner, None).unwrap();
    bench.desk().add_operator("TILDA", scruple::desk::Role::Reviewer, None).unwrap();
    let error = bench.other_desk("TILDA").set_register("r.toml", REGISTER).unwrap_err();
    assert_eq!(error.kind, ErrorKind::NotPermitted);
    bench.desk().unset_register().unwrap();
    assert_eq!(bench.desk().instruments(), &Instruments::built_in());
    assert!(bench.desk().verify_journal().unwrap().faults.is_empty());
}

#[test]
fn a_material_that_the_reference_does_not_have_is_a_mistake_of_the_register() {
    let mut bench = Bench::new();
    let text = format!(
        "{REGISTER}\n[[reference]]\nname = \"block\"\nmaterial = \"silver-998\"\nconductivity = \"58 MS/m\"\nU = \"0.2 MS/m\"\nk = 2\n"
    );
    let error = bench.desk().set_register("r.toml", &text).unwrap_err();
    assert!(error.message.contains("`material`: material `silver-998` is not known"), "{}", error.message);
    assert_eq!(bench.desk().register_view().unwrap().origin, PolicyOrigin::Desk);
}

#[test]
fn a_reading_keeps_the_instrument_that_took_it() {
    let mut bench = Bench::new();
    bench.desk().set_register("r.toml", REGISTER).unwrap();
    let lot = bench.lot(SILVER, 2, "");
    let first = bench.log(lot, &[]);
    assert_eq!(first.standing, Standing::Clear, "{:?}", first.doubts);
    bench.desk().use_instrument("fine scale", &[]).unwrap();
    let (_, budgets) = bench.desk().budgets(&first.number).unwrap();
    assert_eq!(budgets[0].instrument.as_deref(), Some("bench scale"));
    bench.desk().rescore(lot).unwrap();
    let again = bench.desk().find_piece(&first.number).unwrap();
    let mass = &again.assessment.checks[0];
    assert!(mass.budget[0].source.starts_with("`bench scale`"), "{:?}", mass.budget);
    assert_eq!(mass.u, first.assessment.checks[0].u);
}

#[test]
fn the_lines_of_every_budget_add_up_and_name_their_source() {
    let mut bench = Bench::new();
    bench.desk().set_register("r.toml", REGISTER).unwrap();
    let lot = bench.lot(SILVER, 1, "");
    let piece = bench.log(lot, &[]);
    let (number, budgets) = bench.desk().budgets(&piece.number).unwrap();
    assert_eq!(number, piece.number);
    let kinds: Vec<_> = budgets.iter().map(|budget| budget.measurand).collect();
    assert_eq!(
        kinds,
        [
            Measurand::Mass,
            Measurand::Diameter,
            Measurand::Thickness,
            Measurand::Conductivity,
            Measurand::Temperature
        ]
    );
    for budget in &budgets {
        let sum: f64 = budget.lines.iter().map(|line| line.u.value().powi(2)).sum();
        let tolerance = 1e-6 * budget.u.value() + 1e-6;
        assert!((sum.sqrt() - budget.u.value()).abs() <= tolerance, "{budget:?}");
        assert!(budget.lines.iter().all(|line| !line.source.is_empty()));
        let check = piece.assessment.checks.iter().find(|check| check.measurand == budget.measurand);
        assert!(check.is_none_or(|check| check.u == Some(budget.u)), "{budget:?}");
    }
    // JCGM 100:2008, 4.3: 61.9 MS/m with 0.3 % repeatability, a digit of 0.1, U = 0.6 % at k = 2, and 0.3 K at 0.0038/K.
    let conductivity = &budgets[3];
    let names: Vec<&str> = conductivity.lines.iter().map(|line| line.name.as_str()).collect();
    assert_eq!(names, ["repeatability", "digit step", "certificate", "temperature"]);
    let line = |at: usize| conductivity.lines[at].u.value();
    assert!((line(0) - 61.9 * 0.003).abs() < 1e-5);
    assert!((line(1) - 0.1 / 12f64.sqrt()).abs() < 1e-5);
    assert!((line(2) - 61.9 * 0.003).abs() < 1e-5);
    assert!((line(3) - 61.9 * 0.0038 * 0.3).abs() < 2e-3, "{}", line(3));
}

#[test]
fn an_instrument_past_its_calibration_holds_and_says_so() {
    let mut bench = Bench::new();
    let late = REGISTER.replace("due = 2027-02-01", "due = 2026-03-03");
    bench.desk().set_register("r.toml", &late).unwrap();
    let lot = bench.lot(SILVER, 1, "");
    let piece = bench.log(lot, &[]);
    assert_eq!(piece.standing, Standing::Hold);
    let mass = &piece.assessment.checks[0];
    let why = "the calibration of `bench scale` was due on 2026-03-03";
    assert_eq!((mass.outcome, mass.reason.as_str()), (Outcome::NotUsable, why));
    let doubt = piece.doubts.iter().find(|doubt| doubt.kind == DoubtKind::UnprovedInstrument).unwrap();
    assert_eq!(crate::cause(&doubt.cause), format!("mass unproved: {why}"));
    // The day itself still counts.
    let today = REGISTER.replace("due = 2027-02-01", "due = 2026-03-04");
    bench.desk().set_register("r.toml", &today).unwrap();
    bench.desk().rescore(lot).unwrap();
    assert_eq!(bench.desk().find_piece(&piece.number).unwrap().standing, Standing::Clear);
}

#[test]
fn a_load_that_the_scale_cannot_take_neither_clears_nor_refuses() {
    let mut bench = Bench::new();
    let small = REGISTER.replace("max = \"600 g\"", "max = \"30 g\"");
    bench.desk().set_register("r.toml", &small).unwrap();
    let lot = bench.lot(SILVER, 1, "");
    let piece = bench.log(lot, &[(scruple::desk::Field::Reading(Measurand::Mass, 1), "45.00")]);
    assert_eq!(piece.standing, Standing::Hold);
    assert_eq!(piece.assessment.checks[0].reason, "45 g is above what `bench scale` measures, 30 g");
    let (_, budgets) = bench.desk().budgets(&piece.number).unwrap();
    assert_eq!(budgets[0].void.as_deref(), Some("45 g is above what `bench scale` measures, 30 g"));
}

#[test]
fn the_subcommands_set_show_and_choose() {
    let folder = tempfile::tempdir().unwrap();
    write(&folder, "instruments.toml", REGISTER);
    Call::new(&folder, &["instrument", "check", "instruments.toml"]).check(
        0,
        "the register is well formed: 6 instruments, 0 reference pieces, 2 probes\n",
        "",
    );
    let set = Call::new(&folder, &["instrument", "set", "instruments.toml"]).done();
    assert!(set.starts_with("instruments ") && set.ends_with(", set in the book\n"), "{set}");
    Call::new(&folder, &["instrument", "use", "fine scale"]).check(0, "fine scale takes mass\n", "");
    let list = Call::new(&folder, &["instrument", "list", "--json"]).json(0);
    assert_eq!(list["instruments"][1]["name"], "fine scale");
    assert_eq!(list["instruments"][1]["in_use_for"][0], "mass");
    let show = Call::new(&folder, &["instrument", "show", "bench scale"]).done();
    assert!(show.contains("limit of error  OIML R 76-1 class II, e = 0.01 g, in service"), "{show}");
    write(&folder, "bad.toml", "[[instrument]]\nname = \"a\"\nkind = \"scale\"\n");
    let bad = Call::new(&folder, &["instrument", "check", "bad.toml"]).run();
    assert_eq!(bad.status.code(), Some(1));
    let message = String::from_utf8(bad.stderr).unwrap();
    assert!(message.contains("bad.toml:1:1: instrument `a` has no field `repeatability`"), "{message}");
    let kinds: Vec<InstrumentKind> = InstrumentKind::ALL.into_iter().collect();
    assert!(kinds.iter().all(|kind| InstrumentKind::named(kind.word()) == Some(*kind)));
}

#[test]
fn a_budget_prints_its_lines_and_their_sum() {
    let folder = tempfile::tempdir().unwrap();
    Call::new(&folder, &["receive", "-", "--source", "Moonpond (invented)"])
        .input(&format!("line,product,quantity\n1,{SILVER},1\n"))
        .done();
    let rows =
        "line,mass,diameter,thickness,conductivity,temperature,probe\n1,31.10,40.60,2.98,61.9,21.3,flat\n";
    Call::new(&folder, &["log", "-", "--shipment", "S-0001"]).input(rows).done();
    let page = Call::new(&folder, &["budget", "S-0001/1-01", "--quantity", "mass"]).done();
    let expected = "\
Budget of each reading of S-0001/1-01
u: standard uncertainty, k = 1; share: of the sum of squares

mass  31.1000 g
  repeatability                          0.00400 g    28 %  instrument, at least 0.3 digit
  digit step                             0.00289 g    14 %  digit step / √12 (JCGM 100:2008, F.2.2.1)
  limit of error                         0.00577 g    58 %  limit of error / √3 (JCGM 100:2008, 4.3.7)
  combined, root of the squares          0.00759 g   100 %
  expanded, k = 2                        0.01519 g
";
    assert_eq!(page, expected);
    let json = Call::new(&folder, &["budget", "S-0001/1-01", "--json"]).json(0);
    assert_eq!(json["readings"][0]["quantity"], "mass");
    assert_eq!(json["readings"][0]["lines"][0]["name"], "repeatability");
}
