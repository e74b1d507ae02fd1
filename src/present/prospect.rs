//! What the instruments of a desk would do to a product, on one page: depth, core by core, as words and as a plot; then what
//! becomes of good pieces.

use super::spectrum::Marks;
use super::text::{clean, fit, pad_end};
use super::{capability_text, reach_text};
use crate::desk::reach::Prospect;
use crate::quantity::Length;
use crate::scoring::{CoreReach, Reach};

/// Columns of a name, and of the depth from the surface to the middle.
const NAME: usize = 26;
const DEPTH: usize = 38;
/// Cores that are drawn; the rest is counted below.
const DRAWN: usize = 12;

/// Returns the whole page.
pub fn prospect_text(prospect: &Prospect, marks: Marks) -> String {
    let view = &prospect.reach;
    let mut out = match (&view.proposal, view.reaches.as_slice()) {
        (Some(proposal), reaches) => reach_text::comparison(reaches, proposal, &view.product_name),
        (None, [reach]) => {
            let account = reach_text::account(reach, &view.product_name);
            format!("{account}\n{}", depth_plot(reach, marks))
        }
        (None, _) => String::new(),
    };
    out.push_str("\nWhat becomes of good pieces (simulated)\n");
    out.push_str(&capability_text::account(&prospect.capability.cases, &prospect.capability.product_name));
    out
}

/// Draws depth from the surface to the middle, a line for what the reading vouches for and one for each core that could hide.
pub fn depth_plot(reach: &Reach, marks: Marks) -> String {
    let (seen, open, blind) = match marks {
        Marks::Braille => ('█', '░', '·'),
        Marks::Ascii => ('#', '-', '.'),
    };
    let half = reach.half.as_millimetres();
    let column = |length: Length| {
        let share = if half > 0.0 { length.as_millimetres() / half } else { 0.0 };
        ((share * DEPTH as f64).round() as usize).min(DEPTH)
    };
    let line = |name: &str, cells: Vec<char>, after: &str| {
        let cells: String = cells.into_iter().collect();
        format!("{} {cells} {after}\n", pad_end(&fit(&clean(name), NAME), NAME))
    };
    let mut out = format!(
        "{} 0 mm{:>width$}\n",
        pad_end("skin over the core", NAME),
        format!("{half:.2} mm"),
        width = DEPTH - 4
    );
    let mut vouched = vec![blind; DEPTH];
    if let Some(proved) = reach.proved_depth {
        vouched[..column(proved)].fill(seen);
    }
    out.push_str(&line("vouched for", vouched, ""));
    let cores: Vec<&CoreReach> = reach.cores.iter().filter(|core| core.is_open()).collect();
    for core in cores.iter().take(DRAWN) {
        let mut cells = vec![seen; DEPTH];
        for (thin, thick) in &core.hides {
            let (from, to) = (column(*thin), column(*thick));
            cells[from.min(to)..to].fill(open);
        }
        out.push_str(&line(
            &core.name,
            cells,
            &core.displaced.map_or(String::new(), |money| money.to_string()),
        ));
    }
    out.push_str(&format!(
        "{seen} the reading shows it   {open} a core could hide   {blind} nothing is said\n"
    ));
    if cores.len() > DRAWN {
        out.push_str(&format!("{} more cores could hide\n", cores.len() - DRAWN));
    }
    out
}
