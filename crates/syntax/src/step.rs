//! Steps of work, counted in tests alone: they tell work that grows with the text from work that grows faster, on any
//! machine. Outside tests a step is nothing.

#[cfg(test)]
thread_local! {
    static STEPS: std::cell::Cell<usize> = const { std::cell::Cell::new(0) };
}

/// One step: a token, a piece, a character or whatever a loop over the input looks at.
#[inline(always)]
pub(crate) fn step() {
    steps(1);
}

/// So many steps.
#[inline(always)]
pub(crate) fn steps(count: usize) {
    #[cfg(test)]
    STEPS.set(STEPS.get() + count);
    #[cfg(not(test))]
    let _ = count;
}

/// What `run` gives, and how many steps it took.
#[cfg(test)]
pub(crate) fn counted<O>(run: impl FnOnce() -> O) -> (O, usize) {
    let before = STEPS.get();
    let out = run();
    (out, STEPS.get() - before)
}
