//! Sweeps: the fit against a reference library, and simulated hands on good and bad tracks.

mod fit; // isotonic regression: a reference library, and what must hold of any

mod hand; // a hand, a track and a meter

mod limits; // what a pass could show, range changes, any readings at all

mod scenes; // faults, each found at its place

mod table; // rates, hands and circuits: what is found, placed, missed, falsely failed
