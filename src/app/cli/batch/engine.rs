//! A map over many things in parallel, in order, with a limited number under way.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{TryRecvError, channel, sync_channel};
use std::thread;

use rayon::{ThreadPoolBuildError, ThreadPoolBuilder};

/// What takes the results.
pub(super) trait Take<O> {
    /// The next result; `false` when no more are wanted.
    fn take(&mut self, result: O) -> bool;
    /// Nothing is ready: what is held back should go out.
    fn idle(&mut self);
}

/// Feeds things one by one to `work` on a number of threads and hands the results over
/// in the order of the things. `feed` gives each thing and ends when
/// it learns that no more are wanted; it waits while `window` things are under way.
pub(super) fn ordered<I: Send, O: Send>(
    threads: usize,
    window: usize,
    feed: impl FnOnce(&mut dyn FnMut(I) -> bool) + Send,
    work: impl Fn(I) -> O + Sync,
    take: &mut dyn Take<O>,
) -> Result<(), ThreadPoolBuildError> {
    let pool = ThreadPoolBuilder::new().num_threads(threads).build()?;
    let stop = AtomicBool::new(false);
    let (results, done) = channel();
    let (begin, end) = sync_channel(window);
    thread::scope(|scope| {
        let (pool, stop, work) = (&pool, &stop, &work);
        scope.spawn(move || {
            pool.in_place_scope(|jobs| {
                let mut next = 0_usize;
                feed(&mut |thing| {
                    if stop.load(Ordering::Relaxed) || begin.send(()).is_err() {
                        return false;
                    }
                    let (number, results) = (next, results.clone());
                    next += 1;
                    jobs.spawn(move |_| {
                        // Nobody waits for it any more if that fails.
                        let _ = results.send((number, work(thing)));
                    });
                    true
                });
            });
        });
        let mut early = BTreeMap::new();
        let mut next = 0;
        loop {
            let (number, result) = match done.try_recv() {
                Ok(result) => result,
                Err(TryRecvError::Disconnected) => break,
                Err(TryRecvError::Empty) => {
                    take.idle();
                    match done.recv() {
                        Ok(result) => result,
                        Err(_) => break,
                    }
                }
            };
            early.insert(number, result);
            while let Some(result) = early.remove(&next) {
                next += 1;
                // One that begins and does not end is not there.
                let _ = end.recv();
                if !stop.load(Ordering::Relaxed) && !take.take(result) {
                    stop.store(true, Ordering::Relaxed);
                }
            }
        }
    });
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test stops at the first fault")]

    use super::{Take, ordered};
    use std::sync::atomic::{AtomicUsize, Ordering};

    struct Results {
        all: Vec<usize>,
        most: usize,
    }

    impl Take<usize> for Results {
        fn take(&mut self, result: usize) -> bool {
            self.all.push(result);
            self.all.len() < self.most
        }
        fn idle(&mut self) {}
    }

    #[test]
    fn results_come_in_order_and_never_more_than_the_window_are_under_way() {
        for threads in [1, 2, 5] {
            let (fed, taken) = (AtomicUsize::new(0), AtomicUsize::new(0));
            struct Count<'a>(Vec<usize>, &'a AtomicUsize);
            impl Take<usize> for Count<'_> {
                fn take(&mut self, result: usize) -> bool {
                    self.0.push(result);
                    self.1.fetch_add(1, Ordering::SeqCst);
                    true
                }
                fn idle(&mut self) {}
            }
            let mut kept = Count(Vec::new(), &taken);
            ordered(
                threads,
                3,
                |give| {
                    for thing in 0..500 {
                        assert!(give(thing));
                        let under_way = fed.fetch_add(1, Ordering::SeqCst) + 1;
                        // One more may be between its end and the count.
                        assert!(under_way - taken.load(Ordering::SeqCst) <= 4);
                    }
                },
                |thing| {
                    // The even ones take longer.
                    if thing % 2 == 0 {
                        std::thread::yield_now();
                    }
                    thing * 10
                },
                &mut kept,
            )
            .unwrap();
            let expected: Vec<usize> = (0..500).map(|thing| thing * 10).collect();
            assert_eq!(kept.0, expected);
        }
    }

    #[test]
    fn who_wants_no_more_ends_the_feed() {
        let mut kept = Results {
            all: Vec::new(),
            most: 10,
        };
        let fed = AtomicUsize::new(0);
        let feed = |give: &mut dyn FnMut(usize) -> bool| {
            while give(fed.fetch_add(1, Ordering::SeqCst)) {}
        };
        ordered(2, 4, feed, |thing| thing, &mut kept).unwrap();
        assert_eq!(kept.all, (0..10).collect::<Vec<_>>());
        assert!(fed.load(Ordering::SeqCst) < 20);
    }
}
