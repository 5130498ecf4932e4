//! Kernels of physics: plain numbers in named units, the source on each.

pub mod adiabat;
pub mod angles;
pub mod drift;
pub mod gravity;
pub mod humidity;
pub mod hydrostatic;
pub mod mixing;
pub mod theodolite;
pub mod track;
