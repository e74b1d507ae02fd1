//! The same formulas in Python: the checks and the candidates of a silver ounce.

use std::process::Command;

/// Plane wave over every core of a catalogue of this size, 601 skins, the coverage tests of density and conductivity; the checks
/// as conformance probabilities. First with arrays, then one number after the other.
const SCRIPT: &str = r#"
import math, time
import numpy as np
from scipy.special import ndtr
from uncertainties import ufloat
rng = np.random.default_rng(1)
CORES, SKINS = 58, 601
mu0 = 4e-7 * math.pi
omega = 2 * math.pi * 60e3
skin = 62.0e6
cores = np.linspace(0.5e6, 59.0e6, CORES)
delta = math.sqrt(2 / (omega * mu0 * skin))
depth = np.arange(SKINS) * 0.01 * delta
k = (1 + 1j) / delta
z1 = k / skin
z2 = (1 + 1j) / np.sqrt(2 / (omega * mu0 * cores)) / cores
t = np.tanh(k * depth)[None, :]
z = z1 * (z2[:, None] + z1 * t) / (z1 + z2[:, None] * t)
reads = omega * mu0 / (2 * np.imag(z) ** 2) / 1e6
low, high = reads * 0.98, reads * 1.02
density = np.linspace(2.7, 22.0, CORES)
half = 2.98 / 2
thick = depth * 1e3
share = np.clip(1 - 2 * thick / 40.6, 0, 1) ** 2 * np.clip(1 - 2 * thick / 2.98, 0, 1)

def piece(mass, diameter, thickness, sigma):
    checks = [ndtr((mass - 31.05) / 0.01), ndtr((diameter - 40.4) / 0.02), ndtr((thickness - 2.9) / 0.02),
              ndtr((sigma - 60.0) / 0.3) - ndtr((sigma - 65.0) / 0.3)]
    beyond = np.maximum(low - sigma, sigma - high)
    model = np.clip(sigma, low, high) * 0.05
    out = (beyond > 0) & (beyond ** 2 >= (3.29 * 0.3) ** 2 + model ** 2)
    rho = mass / (math.pi / 4 * diameter ** 2 * thickness) * 1e3
    clad = 10.49 * (1 - share)[None, :] + density[:, None] * share[None, :]
    left = ~out & (clad >= rho - 0.2) & (0.6 * clad <= rho + 0.2)
    return checks, left.any(axis=1)

def plain(mass, diameter, thickness, sigma):
    m, d, h, s = ufloat(mass, 0.01), ufloat(diameter, 0.02), ufloat(thickness, 0.02), ufloat(sigma, 0.3)
    rho = m / (math.pi / 4 * d ** 2 * h) * 1e3
    checks = [0.5 * math.erfc(-(x.n - limit) / x.s / math.sqrt(2)) for x, limit in ((m, 31.05), (d, 40.4), (h, 2.9), (s, 60.0))]
    left = []
    for core in range(CORES):
        survives = False
        for step in range(SKINS):
            a, b = low[core][step], high[core][step]
            beyond = max(a - s.n, s.n - b)
            model = min(max(s.n, a), b) * 0.05
            if beyond > 0 and beyond * beyond >= (3.29 * s.s) ** 2 + model * model:
                continue
            clad = 10.49 * (1 - share[step]) + density[core] * share[step]
            if clad >= rho.n - 3.29 * rho.s and 0.6 * clad <= rho.n + 3.29 * rho.s:
                survives = True
        left.append(survives)
    return checks, left

def rate(work, seconds):
    began, made = time.perf_counter(), 0
    while time.perf_counter() - began < seconds:
        work(31.1 + 0.01 * rng.standard_normal(), 40.6, 2.98, 62.0 + 0.3 * rng.standard_normal())
        made += 1
    return made / (time.perf_counter() - began)

print(rate(piece, 3.0), rate(plain, 3.0))
"#;

/// Returns pieces a second with arrays, and one number after the other.
pub fn candidates_per_second() -> Result<(f64, f64), String> {
    let output =
        Command::new("python3").args(["-c", SCRIPT]).output().map_err(|error| format!("python3: {error}"))?;
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let mut numbers = text.split_whitespace().filter_map(|word| word.parse().ok());
    match (numbers.next(), numbers.next()) {
        (Some(numpy), Some(plain)) => Ok((numpy, plain)),
        _ => Err("it needs numpy, scipy and uncertainties".to_owned()),
    }
}
