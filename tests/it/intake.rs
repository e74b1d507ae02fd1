//! Packing lists and lists of readings as desks are handed them, and everything that can be wrong with them.

use proptest::prelude::*;
use scruple::evidence::Instruments;
use scruple::intake::{PackingLine, RowError, packing_list, readings_list};
use scruple::quantity::{Currency, Quantity};
use scruple::reference::Catalogue;
use std::collections::HashSet;

fn eur() -> Currency {
    Currency::parse("EUR").unwrap()
}

fn packing(text: &str) -> Result<Vec<PackingLine>, Vec<RowError>> {
    packing_list::read(text, Catalogue::embedded(), eur())
}

#[track_caller]
fn check_packing_mistakes(text: &str, expected: &[&str]) {
    let errors = packing(text).unwrap_err();
    let found: Vec<String> = errors.iter().map(ToString::to_string).collect();
    assert_eq!(found, expected);
}

#[track_caller]
fn check_readings_mistakes(text: &str, expected: &[&str]) {
    let errors = match readings_list::read(text, &[1, 2, 3], &Instruments::built_in()) {
        Ok(list) => list.rejected,
        Err(errors) => errors,
    };
    let found: Vec<String> = errors.iter().map(ToString::to_string).collect();
    assert_eq!(found, expected);
}

#[test]
fn a_packing_list_is_read_in_any_order_of_columns() {
    let lines = packing(
        "serials,quantity,unit_cost,line,product,currency,declared_mass_ozt,declared_fineness\n\
         A1 a2,2,2395.00,1,bar-gold-9999-1ozt,USD,1.000,999.9\n\
         ,20,\"31,50 CHF\",2,au-silver-1b,,,\n",
    )
    .unwrap();
    assert_eq!((lines[0].line, lines[0].quantity), (1, 2));
    assert_eq!(lines[0].unit_cost.unwrap().to_string(), "2395.00 USD");
    // NIST SP 811 App. B.8: one troy ounce is 480 grains, 31.103 476 8 g exactly.
    assert_eq!(lines[0].declared_mass.as_ref().unwrap().value.base(), 31_103_476_800);
    assert_eq!(lines[0].serials.iter().map(|s| s.text()).collect::<Vec<_>>(), ["A1", "a2"]);
    assert_eq!(lines[1].unit_cost.unwrap().to_string(), "31.50 CHF");
    assert_eq!(lines[1].declared_mass, None);
}

#[test]
fn semicolons_decimal_commas_a_byte_order_mark_and_windows_line_ends_are_normal() {
    let lines = packing(
        "\u{feff}Line;Product;Quantity;Unit_Cost;Declared Mass (g)\r\n\r\n1;au-silver-1b;20;31,50;31,1\r\n;;;;\r\n\
         2;\"us-5112-a7\";4;;\r\n",
    )
    .unwrap();
    assert_eq!(lines.len(), 2);
    assert_eq!(lines[0].unit_cost.unwrap().to_string(), "31.50 EUR");
    assert_eq!(lines[0].declared_mass.as_ref().unwrap().text, "31,1");
    assert_eq!((lines[1].row, lines[1].quantity), (5, 4));
}

#[test]
fn every_mistake_of_a_packing_list_is_named_by_row_and_column() {
    check_packing_mistakes(
        "line,product,quantity,declared_mass,unit_cost,currency,serials\n\
         1,us-5121-a7,4,33.931 g,2360,EUR,\n\
         2,au-silver-1b,0,1 oz,31.50,EUR,\n\
         3,au-silver-1b,2,31.1 lb,31.50 USD,EUR,A1 A2 A3\n\
         2,lmu-gold-20,1.5,,\"1,000.00\",EURO,A1\n\
         x,lmu-gold-20,100001,1e3,-5,EUR,\n",
        &[
            "row 2, column `product`: found `us-5121-a7`, allowed is a product id of the reference",
            "row 3, column `quantity`: found `0`, allowed is a whole number from 1 to 100000",
            "row 3, column `declared_mass`: found `1 oz`, allowed is a mass in `ozt` or `g`",
            "row 4, column `declared_mass`: found `31.1 lb`, allowed is a value in one of the units `g`, `kg`, `mg`, \
             `ozt`, `gr`, `dwt`, `tola`, `tael`",
            "row 4, column `unit_cost`: found `31.50 USD`, allowed is an amount in `EUR`, the currency of its row",
            "row 4, column `serials`: found `3 serials`, allowed is at most 2, the quantity of the line",
            "row 5, column `quantity`: found `1.5`, allowed is a whole number from 1 to 100000",
            "row 5, column `currency`: found `EURO`, allowed is a currency of three letters such as `EUR`",
            "row 6, column `line`: found `x`, allowed is a whole number from 1 to 99999",
            "row 6, column `quantity`: found `100001`, allowed is a whole number from 1 to 100000",
            "row 6, column `declared_mass`: found `1e3`, allowed is a mass such as `31.10 g`",
            "row 6, column `unit_cost`: found `-5`, allowed is an amount of 0 or more",
        ],
    );
}

#[test]
fn lines_and_serials_stand_once_in_a_list_whatever_their_case() {
    check_packing_mistakes(
        "line,product,quantity,serials\n1,au-silver-1b,2,Ab-1 X\n2,au-silver-1b,2,aB-1\n1,au-silver-1b,1,\n",
        &[
            "row 3, column `serials`: found `aB-1`, allowed is each serial once; row 2 has it too",
            "row 4, column `line`: found `1`, allowed is each line number once; row 2 has it too",
        ],
    );
}

#[test]
fn an_unknown_column_is_named_with_the_closest_one() {
    let errors = packing("line,product,quantitty\n1,au-silver-1b,2\n").unwrap_err();
    assert_eq!(errors[0].column, "quantitty");
    assert_eq!(errors[0].hint.as_deref(), Some("closest: `quantity`"));
    assert_eq!(
        errors[1].to_string(),
        "row 1, column `quantity`: found nothing, allowed is a column `quantity` in the header"
    );
    let hint = packing("line,product,quantity\n1,us-5112-a77,1\n").unwrap_err().remove(0).hint.unwrap();
    assert!(hint.starts_with("closest: `us-5112-a7`"), "{hint}");
}

#[test]
fn a_decimal_comma_between_commas_is_explained() {
    let errors = packing("line,product,quantity,unit_cost\n1,au-silver-1b,2,31,50\n").unwrap_err();
    assert_eq!(errors[0].to_string(), "row 2, column `5`: found `50`, allowed is 4 cells, as in the header");
    assert!(errors[0].hint.as_deref().unwrap().contains("decimal comma"));
}

#[test]
fn cells_that_look_like_formulas_are_data() {
    let lines = packing("line,product,quantity,serials\n1,au-silver-1b,2,=SUM(A1) @X\n").unwrap();
    assert_eq!(lines[0].serials[0].text(), "=SUM(A1)");
    let errors = packing("line,product,quantity\n1,=1+1,2\n").unwrap_err();
    assert_eq!(errors[0].found, "=1+1");
}

#[test]
fn an_empty_list_is_refused() {
    check_packing_mistakes(
        "",
        &["row 1, column `*`: found nothing, allowed is a header line with the names of the columns"],
    );
    check_packing_mistakes(
        "line,product,quantity\n\n",
        &["row 1, column `*`: found nothing, allowed is at least one line below the header"],
    );
}

#[test]
fn a_list_of_readings_takes_units_from_header_and_cell() {
    let text = "line;serial;mass_g;diameter_in;thickness;conductivity_1_%IACS;conductivity_2;temperature;probe\n\
                1;A1;31,10;1.520;2,98 mm;106,5;61.8;21.5;FLAT\n\
                2;-;1 ozt;-;;105;;68 F;\n";
    let list = readings_list::read(text, &[1, 2], &Instruments::built_in()).unwrap();
    assert_eq!(list.rejected, []);
    let first = &list.rows[0];
    assert_eq!(first.probe.as_deref(), Some("flat"));
    assert_eq!(first.serial.as_ref().unwrap().text(), "A1");
    let stored: Vec<String> =
        first.readings.iter().map(|(spot, reading)| format!("{spot} {}", reading.stored())).collect();
    // IEC 60028: 100 %IACS is 58 MS/m. NIST SP 811 App. B.6: one inch is 25.4 mm.
    assert_eq!(stored, ["1 31.10 g", "1 38.61 mm", "1 2.98 mm", "1 61.77 MS/m", "2 61.8 MS/m", "1 21.5 C"]);
    assert_eq!(list.rows[1].readings.len(), 3);
    assert_eq!(list.rows[1].serial, None);
}

#[test]
fn every_mistake_of_a_list_of_readings_is_named_and_the_good_rows_are_kept() {
    let text = "line,serial,mass,conductivity,probe\n\
                1,,31.10,61.2,flat\n\
                4,,31.10,61.2,flat\n\
                2,,31.10,61.2 S/mm,flat\n\
                2,,31.10,61.2,round\n\
                3,,=,61.2,flat\n\
                3,A B,31.10,,\n\
                1,X1,,,\n";
    let probes: Vec<String> =
        Instruments::built_in().probes.iter().map(|probe| format!("`{}`", probe.name)).collect();
    let probe = format!(
        "row 5, column `probe`: found `round`, allowed is a probe of this desk: {}",
        probes.join(", ")
    );
    check_readings_mistakes(
        text,
        &[
            "row 3, column `line`: found `4`, allowed is a line of the packing list, 1 to 3",
            "row 4, column `conductivity`: found `61.2 S/mm`, allowed is a value in one of the units `MS/m`, `%IACS`, \
             `S/m`, `m/ohmmm2`",
            &probe,
            "row 6, column `mass`: found `=`, allowed is a mass, or `-` for not measured",
            "row 7, column `serial`: found `A B`, allowed is a serial of 1 to 40 characters without blanks",
            "row 8, column `mass`: found nothing, allowed is at least one reading in the row",
        ],
    );
    let list = readings_list::read(text, &[1, 2, 3], &Instruments::built_in()).unwrap();
    assert_eq!(list.rows.iter().map(|row| row.row).collect::<Vec<_>>(), [2]);
    assert_eq!(
        readings_list::rejected_rows(text, &HashSet::from([3, 7])),
        "line,serial,mass,conductivity,probe\n4,,31.10,61.2,flat\n3,A B,31.10,,\n"
    );
}

#[test]
fn mistakes_in_the_header_of_readings_refuse_the_list() {
    check_readings_mistakes(
        "line,mas,conductivity_1_lb,conductivity_21,mass,mass_g\n1,1,1,1,1,1\n",
        &[
            "row 1, column `mas`: found `mas`, allowed is one of the columns `line`, `serial`, `mass`, `diameter`, \
             `thickness`, `length`, `width`, `conductivity`, `temperature`, `probe`",
            "row 1, column `conductivity_1_lb`: found `conductivity_1_lb`, allowed is `conductivity` with one of the \
             units `MS/m`, `%IACS`, `S/m`, `m/ohmmm2`",
            "row 1, column `conductivity_21`: found `conductivity_21`, allowed is spots from 1 to 20",
            "row 1, column `mass_g`: found `mass_g`, allowed is each column once",
        ],
    );
    check_readings_mistakes(
        "serial\nA1\n",
        &[
            "row 1, column `line`: found nothing, allowed is a column `line` in the header",
            "row 1, column `mass`: found nothing, allowed is at least one column of readings, such as `mass`",
        ],
    );
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_text_makes_a_reader_fall_over(text in "(line|product|quantity|mass|[,;\t\"\n\r]|[0-9]|.){0,60}") {
        let _ = packing(&text);
        let _ = readings_list::read(&text, &[1], &Instruments::built_in());
    }

    #[test]
    fn a_good_row_is_read_whatever_stands_in_the_row_before(junk in "[^,\"\n\r;\t]{1,12}") {
        let text = format!("line,mass\n{junk},1\n1,31.10\n");
        if let Ok(list) = readings_list::read(&text, &[1], &Instruments::built_in()) {
            prop_assert!(list.rows.iter().any(|row| row.row == 3));
        }
    }
}
