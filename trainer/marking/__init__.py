"""From answers to marks. Knows network/ and lab/.

The marking rules
-----------------
- R1 never below zero, no sheet takes from another: `marks.section_mark`.
- R2, R3 an error is charged once: equal to the key or to what follows from the trainee's own earlier answers:
  `standard.py`.
- R2 right as well: what would follow in the trainee's own plan if the cells it rests on were right:
  `Standard._with_what_it_rests_on_right`.
- R4 half, where what follows correctly leads outside the block or to another value that cannot be; what is no value
  carries nothing: `Question.is_usable`, `Standard.follows_from_what_cannot_be`, `Plans.beyond`.
- R4, R5 nothing follows from a value that is written three times where each has its own, as for a link and both its
  ends, nor from one that cannot be and is written twice: `Question.must_differ`, `marking/plans.py`.
- R4 nothing follows from what the Brief gives where several rows hold it, such as the block's own length:
  `Question.given_to_copy`.
- R5 half, where an error made easier what is worked out from it: `Question.worked_out_from`,
  `marking/following_for_half.py`.
- R6 none for copies of what is given, nor for trusted and guarded ports: `Question.may_follow`.
- R7 after a contradiction the next cell follows the value that was written last: `SoFar`: the trainee's usable
  values.
- R8 rows by content: best assignment by weighted likeness: `marking/matching.py`.
- R9 a wrong extra row cancels what its filled cells count, unless it may stand for a missing row, which has been
  paid for; a wrong member of a list a right one: `open_rows.py`; of a list, `credit.part_of_set`.
- R9 a needless relay agent or binding row cancels one cell; a route that takes nothing the wrong way none:
  `equivalence/relays.py`, `equivalence/bindings.py`, `equivalence/routes.is_harmless`.
- R10 two values in a cell count as none; R11 other notations are the same value: `lab/kinds.py`; why a text is no
  value: `lab/unreadable.py`, worded by the catalogue.
- R12 no wrong value costs more than its own cell: `cells.py`; of a route that others stand in for: `open_rows.py: _row`.
- R13 marks by sheet, areas and next steps by concept: `Question.concept`, `pages/feedback.py`.
- R14 the instructor's decision, with its reason, survives grading again: `marking/overrides.py`.
- R15 a slip of form is charged once a sheet, exchanged columns in one row, an error of knowledge each time:
  `Mistake.charged`, `marking/slips.py`.
- half for the right idea in the wrong instance (a mistake's `credit`), unless the value is another cell's too:
  `credit.RIGHT_IDEA`.
- a free plan: of networks that overlap those are wrong whose change mends all; a network cell that its row
  contradicts is wrong by itself: `marking/free_plan.py`.
- where the Brief leaves a choice: by its rules, and what rests on it by follow-through only: `Question.choice`.
- a required route that is delivered by a summary or default is right: `equivalence/routes.py`.
- routes that do their job but circle unused addresses, where that is forbidden: half a route at each of them, once
  (R2): `equivalence/routes.py`.

Sources: examination boards' general marking principles (SQA, AQA, IB, Cambridge: follow-through, lists, positive
marking, a slip of form once a question, rounding once); the house's reading of them is R1 to R15. R5 looks at what
is worked out from a VLAN's network bit by bit. The halves of R4 and R5 never multiply. A cell counts
`Question.counts` within its sheet: 1 where `is_read_off` is declared, else 5. Marks of cells are exact fractions; a
sheet is rounded once (`marks.section_mark`), everything above is a sum, and passing is decided on that.

Feedback rules that code refers to: F1 say where, what was written, which concept. F2 at most two sentences, 40
words, one cause. F3 one consequence that can be seen. F4 the hint first. F5 a ladder of rungs, the answer last. F6
one message a cause, three causes at a time; what the network loses by a cause, and what it hides, decides which
(`marking/causes.py`). F7 no grade and no rank in practice. F8 own and right answer side by side. F9 say what is
right too. F10 no invented reason. F11 the next hint after a change or 30 s.

Experiments
-----------
`lab/trials.py` knows what is tried on a lab's network: a `Trial` is a value, and `run(running)` makes
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
`answer` asks for. Where a written value follows from what was written before, right or wrong, `Explanation.first_errors`
names the cells where that went wrong for the first time: the feedback page begins with those, never with what
follows from them.

What works is no part of the marks. `marking/experiments.py: Laboratory` builds the trainee's own network once, for
the experiments and for this; only there attacks are tried with their controls. `marking/working.py: works_of`
counts its trials by sort against the list of those that the key's network has (`lab/trials.py: trials_on`, which
runs nothing), so a trial that cannot be made in the own network is not shown. `lab/works.py` holds the values:
`Works`, kept in `Marked.works`; `MustWork`, the setting; `ToPass`, which finds the sentence. Where the gateway is
free and stands where the key has a visitor, the visitor takes the key's gateway's place: trials are matched by the
visitors' MACs, not by their names.

What `check` tells of
copied, repeated and worked-out cells is found out by `marking/effort.py`, from what `answer` asks for; a test holds
that whatever it finds copied is declared so. `python tests/bench/know_nothing_table.py` prints what know-nothing
papers earn.
"""
