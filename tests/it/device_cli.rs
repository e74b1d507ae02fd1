//! `scruple listen` and `scruple device` as a dealer uses them to write a profile.

use super::cli::{Call, write};
use portable_pty::{PtySize, native_pty_system};
use std::io::{Read, Write};

const SCALE: &str = include_str!("../../assets/desk/devices/scale.toml");
const SENT: &str = "ok + 31.10 g\r\nok + 31.10 g\r\nok + 31.10 g\r\nok + 31.10 g\r\nmove + 1 g\r\nok + 1 ozt\r\nhigh\r\n\u{1}9\r\n";

/// Returns the lines without the time before each.
fn without_time(text: &str) -> Vec<&str> {
    text.lines().map(|line| &line[11..]).collect()
}

#[test]
fn listen_shows_what_a_profile_makes_of_each_line() {
    let folder = tempfile::tempdir().unwrap();
    write(&folder, "scale.toml", SCALE);
    let printed = Call::new(&folder, &["listen", "-", "--profile", "scale.toml"]).input(SENT).done();
    assert_eq!(
        without_time(&printed),
        [
            "ok + 31.10 g                    stable 31.10 g",
            "ok + 31.10 g                    stable 31.10 g",
            "ok + 31.10 g                    stable 31.10 g",
            "ok + 31.10 g                    stable 31.10 g  = value",
            "move + 1 g                      unstable 1 g",
            "ok + 1 ozt                      wrong unit - found `ozt`, allowed is `g`",
            "high                            overload",
            "\\x019                           garbage - byte 01 is not text",
        ]
    );
    let printed = Call::new(&folder, &["listen", "-"]).input(SENT).done();
    assert_eq!(without_time(&printed)[7], "\\x019");
    let printed =
        Call::new(&folder, &["listen", "-", "--profile", "scale.toml", "--json"]).input(SENT).done();
    let rows: Vec<serde_json::Value> =
        printed.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(rows.len(), 8);
    assert_eq!(
        (&rows[3]["schema"], &rows[3]["taken"], &rows[3]["value"]),
        (&1.into(), &true.into(), &"31.10 g".into())
    );
    assert_eq!((&rows[5]["says"], &rows[7]["line"]), (&"wrong unit".into(), &"\\x019".into()));
}

#[test]
fn a_recording_is_read_back_through_a_profile_and_never_written_over() {
    let folder = tempfile::tempdir().unwrap();
    write(&folder, "scale.toml", SCALE);
    let record = ["listen", "-", "--record", "lines.txt"];
    Call::new(&folder, &record).input(SENT).done();
    let recorded = std::fs::read_to_string(folder.path().join("lines.txt")).unwrap();
    assert_eq!(recorded.lines().count(), 8);
    assert!(recorded.lines().last().unwrap().ends_with("\t\\x019"), "{recorded}");
    let printed = Call::new(&folder, &["device", "check", "scale.toml", "--lines", "lines.txt"]).done();
    let mut lines = printed.lines();
    let said = "the profile is well formed: mass in g, a value is 4 stable lines in a row";
    assert_eq!(lines.next(), Some(said));
    assert_eq!(lines.filter(|line| line.ends_with("= value")).count(), 1);
    let json =
        Call::new(&folder, &["device", "check", "scale.toml", "--lines", "lines.txt", "--json"]).json(0);
    assert_eq!(
        (&json["device"]["feeds"][0], &json["recording"][4]["says"]),
        (&"mass".into(), &"unstable".into())
    );
    Call::new(&folder, &record).input(SENT).check(
        1,
        "",
        "error: `lines.txt` exists already\nhint: name another file or move it away; recordings are never written over\n",
    );
    write(&folder, "other.txt", "12 ok\n");
    Call::new(&folder, &["device", "check", "scale.toml", "--lines", "other.txt"]).check(
        1,
        "",
        "error: `other.txt`, line 1: found `12 ok`, allowed is a line of `scruple listen --record`\n",
    );
}

#[test]
fn profiles_are_listed_and_a_mistake_names_file_line_and_field() {
    let folder = tempfile::tempdir().unwrap();
    let empty = Call::new(&folder, &["device", "list"]).done();
    assert!(empty.starts_with("no profile in ") && empty.ends_with("config/devices\n"), "{empty}");
    std::fs::create_dir_all(folder.path().join("config/devices")).unwrap();
    write(&folder, "config/devices/scale.toml", SCALE);
    write(&folder, "config/devices/calliper.toml", include_str!("../../assets/desk/devices/calliper.toml"));
    Call::new(&folder, &["device", "list"]).check(
        0,
        "name      feeds                               units  reached by  a value is\n\
         calliper  diameter, thickness, length, width  mm     keyboard    each stable line\n\
         scale     mass                                g      -           4 stable lines in a row\n",
        "",
    );
    let json = Call::new(&folder, &["device", "list", "--json"]).json(0);
    assert_eq!((&json["devices"][0]["keyboard"], &json["devices"][1]["speed"]), (&true.into(), &9600.into()));
    write(
        &folder,
        "bad.toml",
        "feeds = [\"mass\"]\nlines = [\"{number} {unt}\"]\n[value]\nunit = \"g\"\n[stable]\nevery_line = true\n",
    );
    Call::new(&folder, &["device", "check", "bad.toml"]).check(
        1,
        "",
        "error: bad.toml:2: `lines`: pattern `{number} {unt}`: `{unt}` is not a place; allowed are `{number}`, `{sign}`, \
         `{unit}`, `{unit?}`, `{mark}`, `{mark?}`, `{any}`\n",
    );
    let gone = Call::new(&folder, &["listen", "nowhere"]).run();
    assert_eq!(gone.status.code(), Some(7));
    assert!(String::from_utf8_lossy(&gone.stderr).starts_with("error: port `nowhere` cannot be opened: "));
}

#[test]
fn a_port_is_listened_to_until_the_device_is_gone() {
    let folder = tempfile::tempdir().unwrap();
    let meter = include_str!("../../assets/desk/devices/meter.toml");
    // A pseudo terminal has no parity and eight bits.
    let meter =
        meter.replace("data_bits = 7", "data_bits = 8").replace("parity = \"even\"", "parity = \"none\"");
    write(&folder, "meter.toml", &meter);
    let size = PtySize { rows: 24, cols: 80, pixel_width: 0, pixel_height: 0 };
    let pair = native_pty_system().openpty(size).unwrap();
    let port = pair.master.tty_name().unwrap();
    let (mut reader, mut writer) =
        (pair.master.try_clone_reader().unwrap(), pair.master.take_writer().unwrap());
    let answers = std::thread::spawn(move || {
        // Four requests, three answers; then somebody pulls the plug.
        let mut asked = [0; 1];
        for answer in ["61.8\r", "61.9 MS/m\r", "106.7 %IACS\r", ""] {
            while asked[0] != b'?' {
                reader.read_exact(&mut asked).unwrap();
            }
            asked[0] = 0;
            writer.write_all(answer.as_bytes()).unwrap();
            writer.flush().unwrap();
        }
        drop((pair, reader, writer));
    });
    let args = [
        "listen",
        port.to_str().unwrap(),
        "--profile",
        "meter.toml",
        "--speed",
        "19200",
        "--record",
        "lines.txt",
    ];
    let output = Call::new(&folder, &args).run();
    answers.join().unwrap();
    let (printed, said) =
        (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap());
    assert_eq!(
        without_time(&printed)[..3],
        [
            "61.8                            unstable 61.8 MS/m",
            "61.9 MS/m                       stable 61.9 MS/m",
            "106.7 %IACS                     wrong unit - found `%IACS`, allowed is `MS/m`",
        ]
    );
    assert_eq!(output.status.code(), Some(7));
    assert!(said.starts_with(&format!("error: port `{}` is gone: ", port.display())), "{said}");
    let recorded = std::fs::read_to_string(folder.path().join("lines.txt")).unwrap();
    assert!(recorded.contains("\t106.7 %IACS\n"), "{recorded}");
}
