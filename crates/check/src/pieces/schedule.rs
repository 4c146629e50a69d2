//! Does the pieces of a tree in an order in which what hangs on a piece comes before it, several at a time.

use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// Calls `one` for each place of a tree with what came of its children, the last child first; `parents` names each place's
/// parent, which is always an earlier place. What comes of it does not depend on `threads`.
///
/// # Errors
/// The first that any place gives; places that were not begun by then are left out.
pub(crate) fn children_first<T: Send, E: Send>(
    parents: &[Option<usize>],
    threads: usize,
    one: impl Fn(usize, &[&T]) -> Result<T, E> + Sync,
) -> Result<Vec<T>, E> {
    let mut children: Vec<Vec<usize>> = vec![Vec::new(); parents.len()];
    for (place, parent) in parents.iter().enumerate().rev() {
        if let Some(parent) = parent {
            children[*parent].push(place);
        }
    }
    if threads < 2 || parents.len() < 2 {
        let mut done: Vec<Option<T>> = parents.iter().map(|_| None).collect();
        for place in (0..parents.len()).rev() {
            let hanging: Vec<&T> = children[place].iter().filter_map(|&child| done[child].as_ref()).collect();
            let new = one(place, &hanging)?;
            done[place] = Some(new);
        }
        return Ok(done.into_iter().flatten().collect());
    }
    let board = Board {
        state: Mutex::new(State {
            ready: (0..parents.len()).filter(|&place| children[place].is_empty()).collect(),
            waiting: children.iter().map(Vec::len).collect(),
            done: parents.iter().map(|_| None).collect(),
            left: parents.len(),
            failed: None,
        }),
        news: Condvar::new(),
    };
    std::thread::scope(|scope| {
        for _ in 1..threads.min(parents.len()) {
            // Where there is no thread to be had, the others do its share.
            let _ = worker().spawn_scoped(scope, || board.work(parents, &children, &one));
        }
        board.work(parents, &children, &one);
    });
    let state = board.state.into_inner().unwrap_or_else(PoisonError::into_inner);
    match state.failed {
        Some(error) => Err(error),
        None => Ok(state.done.into_iter().flatten().collect()),
    }
}

/// A thread for parts of a check. Debug builds have fat frames.
pub(crate) fn worker() -> std::thread::Builder {
    std::thread::Builder::new().name("check".to_owned()).stack_size(8 << 20)
}

struct Board<T, E> {
    state: Mutex<State<T, E>>,
    news: Condvar,
}

struct State<T, E> {
    /// Places whose children are all done.
    ready: Vec<usize>,
    /// For each place: its children that are not done.
    waiting: Vec<usize>,
    done: Vec<Option<T>>,
    left: usize,
    failed: Option<E>,
}

impl<T, E> Board<T, E> {
    fn lock(&self) -> MutexGuard<'_, State<T, E>> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes places until none is left.
    fn work(
        &self,
        parents: &[Option<usize>],
        children: &[Vec<usize>],
        one: &impl Fn(usize, &[&T]) -> Result<T, E>,
    ) {
        // Should a place panic, the others do not wait for it.
        let _quit = Quit(self);
        let mut state = self.lock();
        loop {
            if state.left == 0 || state.failed.is_some() {
                return;
            }
            let Some(place) = state.ready.pop() else {
                state = self.news.wait(state).unwrap_or_else(PoisonError::into_inner);
                continue;
            };
            // What came of the children is taken out while their parent looks at it, and put back.
            let hanging: Vec<(usize, T)> = children[place]
                .iter()
                .filter_map(|&child| Some((child, state.done[child].take()?)))
                .collect();
            drop(state);
            let new = one(place, &hanging.iter().map(|(_, of)| of).collect::<Vec<_>>());
            state = self.lock();
            for (child, of) in hanging {
                state.done[child] = Some(of);
            }
            match new {
                Ok(new) => state.done[place] = Some(new),
                Err(error) => _ = state.failed.get_or_insert(error),
            }
            state.left -= 1;
            if let Some(parent) = parents[place] {
                state.waiting[parent] -= 1;
                if state.waiting[parent] == 0 {
                    state.ready.push(parent);
                }
            }
            self.news.notify_all();
        }
    }
}

/// Ends the work of all when one of them panics; the scope passes the panic on.
struct Quit<'a, T, E>(&'a Board<T, E>);

impl<T, E> Drop for Quit<'_, T, E> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.0.lock().left = 0;
            self.0.news.notify_all();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tree of `n` places, each hanging on some earlier one or on none.
    fn tree(n: usize) -> Vec<Option<usize>> {
        (0..n).map(|i| (i % 5 != 0).then(|| (i * 7919 + 13) % i)).collect()
    }

    #[test]
    fn any_number_of_threads_gives_the_same() {
        let parents = tree(300);
        let weigh = |place: usize, hanging: &[&u64]| -> Result<u64, ()> {
            Ok(hanging.iter().fold(place as u64, |sum, of| sum.wrapping_mul(31).wrapping_add(**of)))
        };
        let alone = children_first(&parents, 1, weigh);
        assert_eq!(alone.as_ref().map(Vec::len), Ok(300));
        for threads in [2, 3, 8] {
            assert_eq!(children_first(&parents, threads, weigh), alone);
        }
        assert_eq!(children_first(&[], 4, weigh), Ok(Vec::new()));
    }

    #[test]
    fn an_error_ends_the_work() {
        for threads in [1, 4] {
            let fails = |place: usize, _: &[&()]| if place == 57 { Err(place) } else { Ok(()) };
            assert_eq!(children_first(&tree(300), threads, fails), Err(57));
        }
    }
}
