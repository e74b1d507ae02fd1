//! What instruments would do to a product, in words: before the meter was compared and after.

use super::table::{Align, Table};
use super::text::{clean, wrap};
use crate::scoring::{Capability, Held};

/// Columns of the text.
const COLUMNS: usize = super::text::PAGE;
/// Share of good pieces held by their own readings that is thought bearable: the project's own target.
pub const BEARABLE: f64 = 0.05;

fn put(out: &mut String, indent: &str, text: &str) {
    for line in wrap(text, COLUMNS - indent.len()) {
        out.push_str(indent);
        out.push_str(&line);
        out.push('\n');
    }
}

fn percent(share: f64) -> String {
    format!("{:.1} %", 100.0 * share)
}

/// Returns the account of a product: `cases` are the states of the instruments, each with a name; the last is the best.
pub fn account(cases: &[(String, Capability)], name: &str) -> String {
    let Some((_, last)) = cases.last() else { return String::new() };
    let mut out = String::new();
    out.push_str(&format!("{}  {}\n", last.product, clean(name)));
    put(&mut out, "", &last.size);
    if !last.assumed.is_empty() {
        put(&mut out, "", &format!("assumed: {}; state the measures of yours", last.assumed.join("; ")));
    }
    put(
        &mut out,
        "",
        &format!("probe {}, {} good pieces, seed {}", clean(&last.probe), last.held.pieces, last.seed),
    );
    out.push('\n');
    let mut table = Table::new(&[
        ("window", Align::Left),
        ("from", Align::Right),
        ("to", Align::Right),
        ("u", Align::Right),
        ("accepted", Align::Right),
        ("", Align::Left),
    ]);
    for window in &last.windows {
        let digits = |amount: Option<crate::evidence::Amount>| amount.map_or("-".to_owned(), |a| a.show(2));
        table.row([
            window.measurand.name().to_owned(),
            digits(window.lower),
            digits(window.upper),
            window.u.map_or("-".to_owned(), |u| u.show(3)),
            window.accepted_share.map_or("-".to_owned(), |share| format!("{:.0} %", 100.0 * share)),
            if window.capable { "capable" } else { "not capable" }.to_owned(),
        ]);
    }
    out.push_str(&table.text());
    out.push('\n');
    for (case, capability) in cases {
        held(&mut out, case, capability);
    }
    out.push('\n');
    put(
        &mut out,
        "",
        &format!(
            "The target of {:.0} % is about pieces held by their own readings where the instruments are capable: something about \
             that very piece asks for an act. A doubt that the whole lot shares is another matter: the probe cannot see deeper on \
             any piece, it is settled on a sample of the lot, and no better scale or meter changes it.",
            100.0 * BEARABLE
        ),
    );
    if !last.shared.is_empty() {
        out.push_str("Shared by the whole lot, whatever its pieces read\n");
        for cause in &last.shared {
            put(&mut out, "  ", &super::causes::cause_text(cause));
        }
    }
    out
}

fn held(out: &mut String, case: &str, capability: &Capability) {
    let Held { pieces, own, refused, shared, other_core, by_kind, .. } = &capability.held;
    let kinds: Vec<String> =
        by_kind.iter().map(|(kind, count)| format!("{} {count}", kind.label())).collect();
    let kinds = if kinds.is_empty() { String::new() } else { format!(" ({})", kinds.join(", ")) };
    let refused = if *refused > 0 { format!("; {refused} refused") } else { String::new() };
    let other = match other_core {
        0 => String::new(),
        some => format!(", on {some} of them also about a core that the piece as specified excludes"),
    };
    put(
        out,
        "",
        &format!(
            "{case}: {own} of {pieces} held by their own readings, {}{kinds}{refused}; shared doubt on {shared}{other}",
            percent(capability.held.own_share())
        ),
    );
    let why_not = capability.why_not();
    if why_not.is_empty() {
        let open = capability.solids.iter().map(|solid| {
            format!("{:.0} % of the accepted readings leave solid {} open", 100.0 * solid.share, solid.name)
        });
        let open: Vec<String> = open.collect();
        let but = if open.is_empty() { String::new() } else { format!("; {}", open.join("; ")) };
        put(out, "  ", &format!("capable{but}"));
    }
    for reason in why_not {
        put(out, "  ", &format!("not capable: {reason}"));
    }
}
