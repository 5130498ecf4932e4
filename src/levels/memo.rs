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

    /// The values of a point, from `make` the first time.
    #[inline]
    pub fn get(&self, k: usize, make: impl FnOnce() -> [f64; 3]) -> [f64; 3] {
        let Some(number) = self.number.get(k) else {
            return make();
        };
        let kept = number.get().checked_sub(1);
        if let Some(kept) = kept.and_then(|i| self.values.borrow().get(i as usize).copied()) {
            return kept;
        }
        let made = make();
        let mut values = self.values.borrow_mut();
        values.push(made);
        // Without a number it is made again.
        number.set(u32::try_from(values.len()).unwrap_or(0));
        made
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_made_once() {
        let memo = Memo::of(2);
        let made = Cell::new(0.0);
        let get = |k: usize| {
            memo.get(k, || {
                made.set(made.get() + 1.0);
                [made.get(); 3]
            })
        };
        assert_eq!([get(1), get(0), get(1)], [[1.0; 3], [2.0; 3], [1.0; 3]]);
        assert_eq!(made.get(), 2.0);
    }
}
