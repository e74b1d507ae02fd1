//! The table as Markdown.

use std::time::Duration;

/// Rows of what was measured, beside what it was compared with.
#[derive(Default)]
pub struct Table {
    rows: Vec<[String; 3]>,
    machine: String,
}

impl Table {
    pub fn row(&mut self, what: &str, took: &str, beside: &str) {
        self.rows.push([what, took, beside].map(str::to_owned));
    }

    pub fn made_on(&mut self, machine: &str) {
        machine.clone_into(&mut self.machine);
    }

    pub fn markdown(&self) -> String {
        let mut text = format!(
            "`cargo bench --bench speed` on {}:\n\n| what | measured | beside it, in the same run |\n|---|---|---|\n",
            self.machine
        );
        for [what, took, beside] in &self.rows {
            text.push_str(&format!("| {what} | {took} | {beside} |\n"));
        }
        text
    }
}

/// Returns the median and the value below which 99 of 100 lie.
pub fn percentiles(times: &mut [Duration]) -> (Duration, Duration) {
    times.sort_unstable();
    let at = |share: f64| times[((times.len() - 1) as f64 * share).round() as usize];
    (at(0.5), at(0.99))
}

pub fn milliseconds(time: Duration) -> String {
    let ms = time.as_secs_f64() * 1e3;
    match ms {
        0.0..0.1 => format!("{:.0} µs", ms * 1e3),
        0.1..10.0 => format!("{ms:.2} ms"),
        10.0..1000.0 => format!("{ms:.0} ms"),
        _ => format!("{:.1} s", ms / 1e3),
    }
}

pub fn per_second(rate: f64) -> String {
    if rate >= 1000.0 { format!("{:.0},000 a second", rate / 1e3) } else { format!("{rate:.0} a second") }
}
