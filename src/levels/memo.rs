//! Values of points that are computed when they are first asked for.

use std::cell::{Cell, RefCell};

/// The three values of each point of a curve; few points are ever asked for.
pub(crate) struct Memo {
    /// Which of the values are those of a point, from 1; 0: none yet.
    number: Vec<Cell<u32>>,
    values: RefCell<Vec<[f64; 3]>>,
}

impl Memo {
    /// Of a number of points.
    pub fn of(points: usize) -> Self {
        Self {
            number: vec![Cell::new(0); points],
            values: RefCell::default(),
        }
    }

    /// The values of a point, from `make` the first time. Beyond the last point, or the last
    /// number, nothing is kept.
    #[inline]
    pub fn get(&self, k: usize, make: impl FnOnce() -> [f64; 3]) -> [f64; 3] {
        let number = self.number.get(k);
        let kept = number.and_then(|number| number.get().checked_sub(1));
        if let Some(kept) = kept.and_then(|i| self.values.borrow().get(i as usize).copied()) {
            return kept;
        }
        let values = make();
        let mut all = self.values.borrow_mut();
        all.push(values);
        if let Some(number) = number {
            number.set(u32::try_from(all.len()).unwrap_or(0));
        }
        values
    }
}
