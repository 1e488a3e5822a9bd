"""From answers to marks. Knows network/ and lab/.

Experiments: `lab/trials.py` knows what is tried on a lab's network: a `Trial` is a value, and `run(running)` makes
it on whichever network of the lab, once or once more; the proof says what it wants of these trials, and
`marking/experiments.py` compares them on three networks: the trainee's own, the same with one cell put right (by
the trainee's own plan), and the key's with this cell alone wrong. `marking/findings.py` decides which cells are
tried together (only such as configure a device; blank and unreadable cells of a row, a missing or extra row, two
values in each other's cells, and a sheet on which nothing stands) and words what was seen (`Explanation.seen`):
what comes back, what else still stops it (the next drop's setting leads through `Built.where` to sheet and row),
that other values go with it so that it works in the trainee's own plan, that a lease would differ once other sheets
are filled, or that nothing changes. Where another error masks it (`Explanation.masked_by`), its consequence is told
as one "by itself", and the feedback page begins with what hides it. It names stations, switches and rows, never
ports or addresses. `Explanation.steps` are the steps of one trial that fails, made once more (`network/trace.py`);
they name addresses, so they are shown only where the answers may be seen, and are there only if it fails again.
`marking/dependencies.py` finds which right cells follow from which wrong one (`Explanation.followed`, F6), and
which earlier cells a wrong one rests on (`Explanation.rests_on`, F5): it watches which values the question's
`answer` asks for. Where a written value follows from what was written before, right or wrong, `Explanation.roots`
names the cells where that went wrong for the first time: the feedback page begins with those, never with what
follows from them.



What works is no part of the marks. `marking/experiments.py: Laboratory` builds the trainee's own network once, for
the experiments and for this; only there attacks are tried with their controls. `marking/working.py: works_of`
counts its trials by sort against the list of those that the key's network has (`lab/trials.py: trials_on`, which
runs nothing), so a trial that cannot be made in the own network is not shown. `lab/works.py` holds the values:
`Works`, kept in `Marked.works`; `MustWork`, the setting; `ToPass`, which finds the sentence. Where the gateway is
free and stands where the key has a visitor, the visitor takes the key's gateway's place: trials are matched by the
visitors' MACs, not by their names.

A cell counts `Question.counts` within its sheet: 1 where `is_read_off` is declared, else 5. What `check` tells of
copied, repeated and worked-out cells is found out by `marking/effort.py`, from what `answer` asks for; a test holds
that whatever it finds copied is declared so. `python tests/bench/know_nothing_table.py` prints what know-nothing
papers earn.
"""
