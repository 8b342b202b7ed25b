//! Crank phase and pulse.
//!
//! # Which physics it was tested against, and where it fails
//! Truth is the cycle-resolved engine model (`crates/model`); the tests are named. The model is one volume per runner, one gas
//! and one crank: what it does not have (waves in long runners, a torsional crank, fuel films, a shared plenum) was tested
//! against nothing.
//!
//! | physics or logger | holds | refused or fails |
//! |---|---|---|
//! | plates 1 to 15 % open or closed, inline four at 42 kPa (`tests/pulse/accuracy.rs`) | refill and air ratio within 0.2 % of area and air at 500, 1000 and 2000 Hz (15 to 30 s), within 1.8 % at 50 Hz with 6 ms lag (60 s; nine of the ten plates within 0.6 %); never off by more than 1.1 U | one row rate that is a whole multiple of the pulse rate leaves phases empty: no averaged pulse |
//! | four readings a cycle (`fold_tests.rs`) | averaged pulse by equivalent time, closed form | no per-cycle variation under 20 readings a cycle |
//! | sensor lag | slope unchanged to 6 ms, 0.7 % at 10 ms (method notes, not in the tests) | beyond that the rise is bent and refused; a lag of one channel alone is named (`tests/trust/lag.rs`) |
//! | late or early valve events, 20 and 35 degrees (`tests/pulse/classes.rs`) | refill ratio even, mean off: breathing | on averaged logs the mean alone remains: both causes are named |
//! | leaking intake valve, 1 and 2 mm2 | the step in the rise refuses the slope and names breathing | under the size at which the step shows (30 % of the slope) it looks like a leak to the air |
//! | weak burn, 70 and 85 % of the heat | pressures even; the speed ripple names it in fours, triples and sixes at 1 kHz and 0.1 rev/min (`tests/pulse/crank.rs`) | no witness on two-strokes, odd firing, a speed averaged over the cycle; 85 % is not promised |
//! | runners of unequal volume | filed in `runner_cc`: refill ratio right | not filed: a refill rate off by the volume; called imbalanced where the mean does not follow it, which is told only while the plate stays choked nearly all the cycle |
//! | hose volume | as runner volume | a hose on one cylinder only is a larger runner |
//! | crossover between runners | other dips show in the rise, which is refused as stepped | small ones (under 30 % of the slope) bias the slope towards each other |
//! | ringing in runner or hose | the mean holds (`crates/model/tests`) | strong ringing bends the local slope: refused |
//! | leak against a plate too far open | told from a linkage where a steady raised stretch shows whether the surplus fades (`tests/pulse/classes.rs`) | a leak and an idle stop are one fixed opening: both are named, always |
//! | crank or cam mark | crank angle within 6 degrees at 1 kHz, missed marks to a fifth bridged | rows wider than a tenth of a cycle jitter; the pulses then hold the phase. A crank mark leaves one turn of a four-stroke open |
//! | odd firing, two-strokes, 1 to 12 cylinders | order and angles within 8 degrees (`tests/pulse/crank.rs`) | the pulses cannot say which dead centre of a four-stroke fires |
//! | idle controller, warm-up, wander | windows leave them out, the phase follows the speed | hunting above 3 % is said, not corrected |

pub mod fold;
pub mod harmonics;
pub mod mark;
pub mod order;
pub mod phase;
pub mod refill;
pub mod ripple;
