//! Values of devices on the bench: which field takes them, and what is said when none does.

use super::screens::data::Desk;
use scruple::desk::devices::{Heard, HeardFrom};
use scruple::intake::device::{DeviceFeed, DeviceNews, DeviceNote, DeviceProfile};
use scruple::tui::devices::Device;
use scruple::tui::message::Message;
use scruple::tui::state::{Entry, Notice};
use std::sync::Arc;
use std::time::Duration;

const SCALE: usize = 0;
const CALLIPER: usize = 1;
const METER: usize = 2;

fn profiles() -> Vec<DeviceProfile> {
    let calliper = include_str!("../../assets/desk/devices/calliper.toml");
    let shipped = [
        ("scale", include_str!("../../assets/desk/devices/scale.toml").to_owned()),
        ("calliper", calliper.replace("keyboard = true", "")),
        ("meter", include_str!("../../assets/desk/devices/meter.toml").to_owned()),
        ("typing calliper", calliper.to_owned()),
        (
            "typing scale",
            calliper
                .replace("mm", "g")
                .replace("\"diameter\", \"thickness\", \"length\", \"width\"", "\"mass\""),
        ),
    ];
    shipped.map(|(name, text)| DeviceProfile::parse(name, &format!("{name}.toml"), &text).unwrap()).into()
}

/// The bench of the invented desk with the shipped devices.
struct Bench {
    desk: Desk,
    feeds: Vec<DeviceFeed>,
}

impl Bench {
    fn new(desk: Desk) -> Self {
        let mut desk = desk;
        let feeds = profiles().into_iter().map(|profile| DeviceFeed::new(Arc::new(profile))).collect();
        desk.state.devices = profiles().into_iter().map(Device::new).collect();
        Bench { desk, feeds }
    }

    fn hear(&mut self, device: usize, heard: Heard) {
        self.desk.send(Message::Device(HeardFrom { device, heard }));
    }

    /// Sends lines of a device, ended by semicolons.
    fn lines(&mut self, device: usize, lines: &str) {
        for news in self.feeds[device].take(lines.replace(';', "\r\n").as_bytes(), Duration::ZERO) {
            self.hear(device, Heard::News(news));
        }
    }

    /// Puts a piece on the scale after the pan was empty.
    fn weigh(&mut self, grams: &str) {
        self.lines(SCALE, "ok 0.00 g;ok 0.00 g;");
        self.lines(SCALE, &format!("move 1.0 g;{}", format!("ok +  {grams} g;").repeat(5)));
    }

    #[track_caller]
    fn refused(&self, words: &str) {
        match &self.desk.state.notice {
            Some(Notice::Refused(text)) => assert!(text.contains(words), "{text}"),
            other => panic!("{other:?}"),
        }
    }

    /// Returns the line in which a field came, as it is on disk.
    fn sent(&self, label: &str) -> Option<String> {
        let disk = self.desk.disk.as_ref().unwrap();
        disk.fields.iter().find(|field| field.field.label() == label).unwrap().device_line.clone()
    }
}

#[test]
fn a_value_goes_into_the_field_in_hand_as_if_typed_with_enter() {
    let mut bench = Bench::new(Desk::on_bench());
    bench.desk.keys("<Enter>");
    bench.weigh("33.930");
    assert_eq!(bench.desk.field("mass"), ("33.930 g".to_owned(), true));
    assert_eq!(bench.desk.focus(), ("diameter".to_owned(), String::new()));
    bench.lines(CALLIPER, "32.70 mm;2.87 mm;");
    assert_eq!(bench.desk.field("diameter"), ("32.70 mm".to_owned(), true));
    assert_eq!(bench.desk.field("thickness"), ("2.87 mm".to_owned(), true));
    bench.lines(METER, "10.2 MS/m;10.2 MS/m;10.2 MS/m;");
    assert_eq!(bench.desk.focus().0, "conductivity 2");
    assert_eq!(bench.sent("mass").as_deref(), Some("ok +  33.930 g"));
    assert_eq!(bench.sent("conductivity 1").as_deref(), Some("10.2 MS/m"));
    assert_eq!(bench.sent("conductivity 2"), None);
}

#[test]
fn a_value_for_another_field_finds_it_and_the_one_in_hand_stays_as_it_is() {
    let mut bench = Bench::new(Desk::on_bench());
    bench.desk.keys("MB-00");
    bench.weigh("33.93");
    assert_eq!(bench.desk.focus(), ("serial".to_owned(), "MB-00".to_owned()));
    assert_eq!(bench.desk.field("mass"), ("33.93 g".to_owned(), true));
    assert!(bench.desk.screen(80, 24).contains("mass: 33.93 g from scale."));
    bench.desk.keys("41<Enter>");
    assert_eq!(bench.desk.field("serial"), ("MB-0041".to_owned(), true));
    assert_eq!(bench.desk.focus().0, "diameter", "the mass is there already");
}

#[test]
fn half_typed_text_is_never_written_over() {
    let mut bench = Bench::new(Desk::on_bench());
    bench.desk.keys("<Enter>33.9");
    bench.weigh("33.93");
    bench.refused("33.93 g from scale was not taken: mass holds `33.9`");
    assert_eq!(bench.desk.focus(), ("mass".to_owned(), "33.9".to_owned()));
    // A calliper would find the thickness empty; the value was meant for the field in hand all the same.
    bench.desk.keys("3<Enter>32.");
    bench.lines(CALLIPER, "32.70 mm;");
    bench.refused("diameter holds `32.`");
    assert_eq!(bench.desk.field("thickness"), (String::new(), false));
    assert_eq!(bench.desk.rings, [1, 1]);
}

#[test]
fn a_value_that_is_changed_by_hand_is_no_longer_the_device_s() {
    let mut bench = Bench::new(Desk::on_bench());
    bench.desk.keys("<Enter>");
    bench.weigh("33.93");
    bench.desk.keys("<Up><BS><BS>5<Enter>");
    assert_eq!(bench.desk.field("mass"), ("33.935".to_owned(), true));
    assert_eq!(bench.sent("mass"), None);
}

#[test]
fn a_value_far_off_is_asked_about() {
    let mut bench = Bench::new(Desk::on_bench());
    bench.weigh("339.3");
    assert_eq!(bench.desk.focus().0, "mass");
    assert!(matches!(bench.desk.state.bench.work.as_ref().unwrap().entry, Entry::Question(_)));
    assert_eq!(bench.desk.field("mass"), ("339.3 g".to_owned(), false));
    // The same piece again changes nothing; emptied, the field takes the right one.
    bench.weigh("339.3");
    bench.refused("mass holds `339.3 g`");
    bench.desk.keys("<Enter>");
    bench.weigh("33.93");
    assert_eq!(bench.desk.field("mass"), ("33.93 g".to_owned(), true));
}

#[test]
fn what_no_field_takes_is_said_and_nothing_changes() {
    let mut bench = Bench::new(Desk::on_bench());
    bench.weigh("33.93");
    bench.weigh("31.10");
    bench.refused("31.10 g from scale was not taken: no empty field takes it");
    bench.desk.keys("<F1>");
    let before = bench.desk.disk.clone();
    bench.lines(CALLIPER, "32.70 mm;");
    bench.refused("a dialog is open");
    bench.desk.keys("<Esc><Esc>");
    bench.lines(CALLIPER, "32.70 mm;");
    bench.refused("the bench is not on the screen");
    assert_eq!(bench.desk.disk, before);
    let mut empty = Bench::new(Desk::empty());
    empty.desk.keys("<F9>2");
    empty.weigh("31.10");
    empty.refused("no lot is open");
}

#[test]
fn marks_and_wrong_units_are_a_short_line_and_no_value() {
    let mut bench = Bench::new(Desk::on_bench());
    bench.desk.keys("<Enter>");
    let mut shows = |lines: &str, words: &str| {
        bench.lines(SCALE, lines);
        let screen = bench.desk.screen(80, 24);
        assert!(screen.contains(words), "{screen}");
        assert_eq!(bench.desk.field("mass"), (String::new(), false));
    };
    shows("ok 0.00 g;move 12.4 g;", "scale: unstable");
    shows("high;high;", "scale: overload");
    shows(&"ok 1.0910 ozt;".repeat(6), "scale: a value in `ozt` was not taken; allowed is `g`");
    shows("ok 3\u{11}.93 g;", "scale: line `ok 3\\x11.93 g` was not taken: byte 11 is not text");
    shows("ok -0.02 g;", "scale: below zero or below its range");
    assert_eq!(bench.desk.rings, [1, 1], "for overload and wrong unit, once each");
    bench.lines(SCALE, "ok 0.00 g;");
    assert!(!bench.desk.screen(80, 24).contains("scale:"));
}

#[test]
fn a_device_that_is_gone_is_said_until_it_is_back_and_typing_goes_on() {
    let mut bench = Bench::new(Desk::on_bench());
    bench.desk.keys("<Enter>33.93<Enter>32.");
    bench.lines(SCALE, "ok 0.00 g;ok 33.93 g;ok 33.93 g;");
    bench.hear(SCALE, Heard::Gone("the line has ended".to_owned()));
    let said = "! scale is not connected (the line has ended); type its values meanwhile";
    assert!(bench.desk.screen(80, 24).contains(said));
    bench.desk.keys("70<Enter>2.8");
    assert_eq!(bench.desk.field("diameter"), ("32.70".to_owned(), true));
    assert_eq!(bench.desk.focus(), ("thickness".to_owned(), "2.8".to_owned()));
    assert!(bench.desk.screen(80, 24).contains(said), "it is still gone");
    bench.hear(SCALE, Heard::Connected);
    assert!(bench.desk.screen(80, 24).contains("The device scale is connected again."));
    bench.desk.keys("7");
    assert!(!bench.desk.screen(80, 24).contains("not connected"));
}

#[test]
fn what_a_device_types_finds_its_field_by_its_pattern() {
    let mut bench = Bench::new(Desk::on_bench());
    bench.desk.keys("MB-00");
    bench.desk.device("33.93 g<Enter><LF>");
    assert_eq!(bench.desk.field("mass"), ("33.93 g".to_owned(), true));
    assert_eq!(bench.desk.focus(), ("serial".to_owned(), "MB-00".to_owned()));
    assert_eq!(bench.sent("mass").as_deref(), Some("33.93 g"));
    bench.desk.keys("41<Enter>");
    bench.desk.device("32.70 mm<Tab>");
    bench.desk.device("2.87 mm<Tab>");
    assert_eq!(bench.desk.field("diameter"), ("32.70 mm".to_owned(), true));
    assert_eq!(bench.desk.field("thickness"), ("2.87 mm".to_owned(), true));
    assert_eq!(bench.desk.focus().0, "conductivity 1");
}

#[test]
fn what_a_device_types_in_the_wrong_unit_or_without_one_is_not_put_anywhere_else() {
    let mut bench = Bench::new(Desk::on_bench());
    bench.desk.keys("<Enter>");
    bench.desk.device("1.287 in<Enter>");
    bench.refused("typing calliper: a value in `in` was not taken; allowed is `mm`");
    assert_eq!(bench.desk.focus(), ("mass".to_owned(), String::new()));
    // Without a unit no pattern fits, and it is as if a person had typed it.
    bench.desk.device("33.93<Enter>");
    assert_eq!(bench.desk.field("mass"), ("33.93".to_owned(), true));
    // The same by hand is typed text, whatever it looks like.
    bench.desk.keys("1.287 in<Enter>");
    assert_eq!(bench.desk.field("diameter"), ("1.287 in".to_owned(), true));
}

#[test]
fn notes_of_a_device_do_not_hide_what_was_said_to_the_typist() {
    let mut bench = Bench::new(Desk::on_bench());
    bench.desk.keys("<Enter>33.9x<Enter>");
    bench.hear(SCALE, Heard::News(DeviceNews::Note(DeviceNote::Unstable)));
    let screen = bench.desk.screen(80, 24);
    assert!(screen.contains("is not a number") && !screen.contains("unstable"), "{screen}");
}
