//! The devices of the desk as the screens know them: a profile each, and how the device stands.

use crate::intake::device::{DeviceNote, DeviceProfile};
use crate::present::tone::Tone;

/// How a device stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Standing {
    /// As it said last; nothing is said of a device that was not heard yet.
    Said(DeviceNote),
    /// It cannot be heard, and why.
    Gone(String),
}

/// A device of the desk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Device {
    /// Its profile.
    pub profile: DeviceProfile,
    /// How it stands.
    pub standing: Standing,
}

impl Device {
    /// Makes a device that was not heard yet.
    pub fn new(profile: DeviceProfile) -> Self {
        Device { profile, standing: Standing::Said(DeviceNote::Nothing) }
    }

    /// Returns how it stands in words; `None` when there is nothing to say.
    pub fn words(&self) -> Option<(Tone, String)> {
        let name = &self.profile.name;
        match &self.standing {
            Standing::Said(DeviceNote::Nothing) => None,
            Standing::Said(note) => {
                let tone = if note.is_refusal() { Tone::Hold } else { Tone::Quiet };
                Some((tone, format!("{name}: {note}")))
            }
            Standing::Gone(why) => Some((Tone::Refuse, gone_text(name, why))),
        }
    }
}

/// Says that a device cannot be heard and how to go on.
pub(super) fn gone_text(name: &str, why: &str) -> String {
    format!("! {name} is not connected ({why}); type its values meanwhile, it is tried again")
}

/// Returns what the line above the footer says of the devices: the worst that there is to say.
pub(super) fn worst(devices: &[Device]) -> Option<(Tone, String)> {
    let rank = |tone: &Tone| match tone {
        Tone::Refuse => 2,
        Tone::Hold => 1,
        _ => 0,
    };
    // Of equals the first is said.
    devices.iter().rev().filter_map(Device::words).max_by_key(|(tone, _)| rank(tone))
}
