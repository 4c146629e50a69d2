//! A few threads that work on snapshots. Requests go before checks, and one thread is always free for them.

use std::{
    collections::VecDeque,
    panic::{AssertUnwindSafe, catch_unwind},
    sync::{Arc, Condvar, Mutex, PoisonError},
};

type Job = Box<dyn FnOnce() + Send>;

/// The threads end when the pool is dropped, without finishing what is queued.
pub(crate) struct Pool {
    shared: Arc<Shared>,
}

#[derive(Default)]
struct Shared {
    state: Mutex<State>,
    wake: Condvar,
}

#[derive(Default)]
struct State {
    requests: VecDeque<Job>,
    checks: VecDeque<Job>,
    checking: usize,
    closed: bool,
}

impl Pool {
    pub(crate) fn new(threads: usize) -> Self {
        let shared = Arc::new(Shared::default());
        let threads = threads.max(2);
        for n in 0..threads {
            let shared = Arc::clone(&shared);
            // Parsing and rendering nest little, but debug builds have fat frames.
            let builder = std::thread::Builder::new().name(format!("worker-{n}")).stack_size(8 << 20);
            // A machine that cannot give a thread gives fewer; two are asked for so that one may fail.
            let _ = builder.spawn(move || shared.work(threads - 1));
        }
        Self { shared }
    }

    /// Runs something that a person waits for.
    pub(crate) fn request(&self, job: Job) {
        self.shared.push(job, false);
    }

    /// Runs something that may take its time.
    pub(crate) fn check(&self, job: Job) {
        self.shared.push(job, true);
    }
}

impl Drop for Pool {
    fn drop(&mut self) {
        self.shared.lock().closed = true;
        self.shared.wake.notify_all();
    }
}

impl Shared {
    fn lock(&self) -> std::sync::MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn push(&self, job: Job, check: bool) {
        let mut state = self.lock();
        if check { &mut state.checks } else { &mut state.requests }.push_back(job);
        drop(state);
        self.wake.notify_one();
    }

    fn work(&self, checks_at_most: usize) {
        loop {
            let mut state = self.lock();
            let (job, check) = loop {
                if state.closed {
                    return;
                }
                if let Some(job) = state.requests.pop_front() {
                    break (job, false);
                }
                if state.checking < checks_at_most
                    && let Some(job) = state.checks.pop_front()
                {
                    state.checking += 1;
                    break (job, true);
                }
                state = self.wake.wait(state).unwrap_or_else(PoisonError::into_inner);
            };
            drop(state);
            // Whoever waits for the job's answer sees its channel close.
            let _ = catch_unwind(AssertUnwindSafe(job));
            if check {
                self.lock().checking -= 1;
                self.wake.notify_one();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc;

    #[test]
    fn requests_pass_checks_and_panics_do_no_harm() {
        let pool = Pool::new(2);
        let (release, gate) = mpsc::channel::<()>();
        let (tx, rx) = mpsc::channel();
        pool.check(Box::new(move || {
            let _ = gate.recv();
        }));
        for n in 0..3 {
            let tx = tx.clone();
            pool.check(Box::new(move || tx.send(n).unwrap()));
        }
        pool.request(Box::new(|| panic!("a bug")));
        let asked = tx.clone();
        pool.request(Box::new(move || asked.send(10).unwrap()));
        assert_eq!(rx.recv().unwrap(), 10, "while the checks wait");
        release.send(()).unwrap();
        assert_eq!((0..3).map(|_| rx.recv().unwrap()).collect::<Vec<_>>(), [0, 1, 2]);
    }
}
