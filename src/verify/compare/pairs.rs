//! Which of two lists belong together.

/// Two lists of which some are already paired.
pub(super) struct Open<'a, T> {
    /// Left ones without a partner.
    pub left: Vec<&'a T>,
    /// Right ones without a partner.
    pub right: Vec<&'a T>,
    /// Left and right together.
    pub pairs: Vec<(&'a T, &'a T)>,
}

impl<'a, T> Open<'a, T> {
    pub fn new(left: Vec<&'a T>, right: Vec<&'a T>) -> Self {
        Self {
            left,
            right,
            pairs: Vec::new(),
        }
    }

    /// Pairs what lies nearest along a coordinate, if `near` allows the two at
    /// that distance; what has no coordinate stays open.
    pub fn match_by(
        &mut self,
        coordinate: impl Fn(&&'a T) -> Option<f64>,
        near: impl Fn(&&'a T, &&'a T, f64) -> bool,
    ) {
        let along = |list: &mut Vec<&'a T>| {
            let mut placed = Vec::new();
            list.retain(|one| match coordinate(one) {
                Some(x) if x.is_finite() => {
                    placed.push((x, *one));
                    false
                }
                _ => true,
            });
            placed.sort_by(|a, b| a.0.total_cmp(&b.0));
            placed
        };
        let (left, right) = (along(&mut self.left), along(&mut self.right));
        let (mut ls, mut rs) = (left.as_slice(), right.as_slice());
        let nearer = |rest: &[(f64, &'a T)], x: f64, apart: f64| {
            rest.first()
                .is_some_and(|&(next, _)| (next - x).abs() < apart)
        };
        while let ([(x, l), l_rest @ ..], [(y, r), r_rest @ ..]) = (ls, rs) {
            let apart = (x - y).abs();
            // Only one of the two next can be nearer.
            let left_first = nearer(l_rest, *y, apart);
            let right_first = nearer(r_rest, *x, apart);
            if !left_first && !right_first && near(l, r, apart) {
                self.pairs.push((l, r));
                (ls, rs) = (l_rest, r_rest);
            } else if left_first || (!right_first && x < y) {
                self.left.push(l);
                ls = l_rest;
            } else {
                self.right.push(r);
                rs = r_rest;
            }
        }
        self.left.extend(ls.iter().map(|&(_, l)| l));
        self.right.extend(rs.iter().map(|&(_, r)| r));
    }
}
