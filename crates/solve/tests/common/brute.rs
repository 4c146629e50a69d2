//! Every combination of the controls, one by one: the slow and certain way.

use keyon_circuit::{ids::*, model::Circuit};
use keyon_solve::{Solution, State, TableGroup, device_words, solve};

/// All combinations of positions, or so many of them taken by fixed steps.
pub(crate) fn combinations(circuit: &Circuit, most: usize) -> Vec<Vec<u8>> {
    let sizes: Vec<usize> = circuit.controls.iter().map(|c| c.positions.len()).collect();
    let total = sizes.iter().try_fold(1usize, |n, s| n.checked_mul(*s)).unwrap_or(usize::MAX);
    let spread = |mut n: u64| -> Vec<u8> {
        sizes
            .iter()
            .map(|&s| {
                let p = n % s as u64;
                n /= s as u64;
                p as u8
            })
            .collect()
    };
    if total <= most {
        return (0..total as u64).map(spread).collect();
    }
    // A linear congruential walk (Knuth's MMIX constants); each position is drawn for itself.
    let mut seed = 1u64;
    let mut draw = |s: usize| {
        seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        ((seed >> 33) % s as u64) as u8
    };
    (0..most).map(|_| sizes.iter().map(|&s| draw(s)).collect()).collect()
}

pub(crate) fn solve_at(circuit: &Circuit, base: &State, positions: &[u8]) -> Solution {
    let mut state = base.clone();
    state.positions = positions.to_vec();
    solve(circuit, &state)
}

/// The one row of a group that these positions fall into.
pub(crate) fn row_at(group: &TableGroup, positions: &[u8]) -> Result<usize, String> {
    let fits = |when: &[Option<usize>]| {
        when.iter().zip(&group.controls).all(|(w, c)| w.is_none_or(|w| w == positions[c.index()] as usize))
    };
    let rows: Vec<usize> =
        group.rows.iter().enumerate().filter(|(_, r)| fits(&r.when)).map(|(i, _)| i).collect();
    match rows.as_slice() {
        [one] => Ok(*one),
        other => Err(format!("{} rows for {positions:?}", other.len())),
    }
}

/// Compares a table's group with one solved combination.
pub(crate) fn differs(
    circuit: &Circuit,
    group: &TableGroup,
    solution: &Solution,
    volts: f64,
) -> Result<(), String> {
    let row = &group.rows[row_at(group, &solution.state.positions)?];
    for (&d, words) in group.devices.iter().zip(&row.devices) {
        let found = device_words(&solution.devices[d.index()]);
        if found != *words {
            return Err(format!("{} is {found}, the table says {words}", circuit.devices[d.index()].name));
        }
    }
    for (&p, (state, reads)) in group.points.iter().zip(&row.points) {
        let (found, name) = (solution.node_states[p.index()], &circuit.points[p.index()].name);
        if found != *state {
            return Err(format!("{name} is {}, the table says {}", found.words(), state.words()));
        }
        match (solution.volts[p.index()], reads) {
            (Some(a), Some(b)) if (a - b).abs() <= volts => {}
            (a, b) if a == *b => {}
            (a, b) => return Err(format!("{name} reads {a:?}, the table says {b:?}")),
        }
    }
    Ok(())
}

/// The controls on which something truly depends, from all combinations with the answer of each.
pub(crate) fn depends<K: PartialEq>(circuit: &Circuit, all: &[(Vec<u8>, K)]) -> Vec<ControlId> {
    let index: std::collections::HashMap<&[u8], &K> = all.iter().map(|(p, k)| (p.as_slice(), k)).collect();
    let turns = |c: usize| {
        all.iter().any(|(positions, key)| {
            let mut other = positions.clone();
            (0..circuit.controls[c].positions.len() as u8).any(|p| {
                other[c] = p;
                index[other.as_slice()] != key
            })
        })
    };
    (0..circuit.controls.len()).filter(|&c| turns(c)).map(ControlId::from).collect()
}
