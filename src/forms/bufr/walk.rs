//! One way through a layout for everything that goes by it.

use super::Fault;
use super::field::Field;
use super::marks::Marks;
use super::node::Node;

/// What is done on the way.
pub(super) trait Visit {
    /// Why the way ends early.
    type Stop;

    /// A field in its turn; its number, where it has one that is the same in all
    /// subsets.
    fn field(&mut self, field: &Field) -> Result<Option<i64>, Self::Stop>;

    /// A fault at this place.
    fn stop(&self, fault: Fault) -> Self::Stop;

    /// A count in its turn.
    fn count(&mut self, factor: &Field) -> Result<Option<i64>, Self::Stop> {
        self.field(factor)
    }

    /// A count that is no number.
    fn no_count(&self, factor: &Field) -> Result<u64, Self::Stop>;

    /// A number of passes follow, each of at least a number of bits.
    fn repeat(&mut self, _times: u64, _least_bits: u64) -> Result<(), Self::Stop> {
        Ok(())
    }

    /// A pass begins.
    fn pass(&mut self, _body: &[Node]) {}

    /// Passes begin whose fields do not depend on the data; the number of those that
    /// were made here: the walk goes on after them.
    fn passes(&mut self, _body: &[Node], _times: u64) -> u64 {
        0
    }

    /// A pass over data that stand once begins; `first`: the first one.
    fn once(&mut self, _first: bool) -> Result<(), Self::Stop> {
        Ok(())
    }

    /// The passes over data that stand once are over.
    fn end_once(&mut self) {}

    /// A pass ended.
    fn passed(&mut self, _body: &[Node]) {}
}

/// Goes through nodes. `marks` follows the data where the layout depends on them.
pub(super) fn walk<V: Visit>(
    nodes: &[Node],
    marks: &mut Option<Marks>,
    visit: &mut V,
) -> Result<(), V::Stop> {
    for node in nodes {
        match node {
            Node::Field(field) => {
                one(field, marks, visit)?;
            }
            Node::Repeat {
                times,
                body,
                least_bits,
                once,
            } => {
                let times = match times {
                    Ok(times) => *times,
                    Err(factor) => match counted(factor, marks, visit)?.map(u64::try_from) {
                        Some(Ok(times)) => times,
                        _ => visit.no_count(factor)?,
                    },
                };
                visit.repeat(if *once { times.min(1) } else { times }, *least_bits)?;
                let made = if *once || marks.is_some() {
                    0
                } else {
                    visit.passes(body, times)
                };
                for pass in made..times {
                    if *once {
                        visit.once(pass == 0)?;
                    }
                    visit.pass(body);
                    walk(body, marks, visit)?;
                    visit.passed(body);
                }
                if *once && times > 0 {
                    visit.end_once();
                }
            }
            Node::Operator(operator) => {
                if let Some(marks) = marks {
                    marks.operate(*operator).map_err(|f| visit.stop(f))?;
                }
            }
            Node::Marker(marker) => {
                if let Some(own) = marks {
                    let field = own.marker(*marker).map_err(|f| visit.stop(f))?;
                    one(&field, marks, visit)?;
                }
            }
        }
    }
    Ok(())
}

#[inline]
fn one<V: Visit>(
    field: &Field,
    marks: &mut Option<Marks>,
    visit: &mut V,
) -> Result<Option<i64>, V::Stop> {
    let Some(marks) = marks else {
        return visit.field(field);
    };
    let field = marks.resolved(field);
    let number = visit.field(&field)?;
    marks.see(&field, number).map_err(|f| visit.stop(f))?;
    Ok(number)
}

fn counted<V: Visit>(
    factor: &Field,
    marks: &mut Option<Marks>,
    visit: &mut V,
) -> Result<Option<i64>, V::Stop> {
    let number = visit.count(factor)?;
    if let Some(marks) = marks {
        marks.see(factor, number).map_err(|f| visit.stop(f))?;
    }
    Ok(number)
}
