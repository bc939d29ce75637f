"""The lever problem as a constraint model, for an independent engine to solve.

A lever's position is carried from event to event; moves change it. Shares nothing with the
planner but the problem's words.
"""

from itertools import combinations

from ortools.sat.python import cp_model

from arrange.levers.problem import LeverProblem


class Oracle:
    """One problem's model."""

    def __init__(self, problem: LeverProblem) -> None:
        self.problem = problem
        self.model = cp_model.CpModel()
        self.cost: list[cp_model.LinearExprT] = []
        self.picks = [
            [self.model.new_bool_var(f"n{n}c{c}") for c in range(len(note.choices))]
            for n, note in enumerate(problem.notes)
        ]
        for note, picks in zip(problem.notes, self.picks, strict=True):
            self.model.add_exactly_one(picks)
            self.cost += [
                choice.cost * pick for choice, pick in zip(note.choices, picks, strict=True)
            ]
        self.acts: dict[tuple[int, int, int, int, int], cp_model.IntVar] = {}
        for string in range(len(problem.strings)):
            self._string(string)
        self._hands()
        self._printed()

    def optimum(self) -> int:
        """Return the least cost."""
        self.model.minimize(sum(self.cost))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_time_in_seconds = 60
        status = solver.solve(self.model)
        assert status == cp_model.OPTIMAL, status
        least: float = solver.objective_value
        return round(least)

    def _string(self, string: int) -> None:
        lever = self.problem.strings[string]
        before = self.model.new_bool_var(f"start{string}")
        for pinned, position in self.problem.fixed_start:
            if pinned == string:
                self.model.add(before == (position == "up"))
        if lever.raised_midi is None:
            self.model.add(before == 0)
        else:
            self.cost.append(lever.preset_cost_up * before)
            self.cost.append(lever.preset_cost_down * (1 - before))
        events = [
            (moment.time, 0, slot, place)
            for slot, printed in enumerate(self.problem.slots)
            for place, moment in enumerate(printed.times)
        ]
        events += [(visit.time, 1, number, 0) for number, visit in enumerate(self.problem.visits)]
        for time, kind, number, place in sorted(events):
            if kind:
                self._pluck(string, number, before)
            elif lever.movable and lever.raised_midi is not None:
                before = self._moved(string, (number, place), time, before)

    def _pluck(self, string: int, number: int, at: cp_model.IntVar) -> None:
        note = self.problem.visits[number].note
        for choice, pick in zip(self.problem.notes[note].choices, self.picks[note], strict=True):
            for plucked, position in choice.demands:
                if plucked == string:
                    self.model.add(at == (position == "up")).only_enforce_if(pick)

    def _moved(
        self, string: int, moment: tuple[int, int], time: int, before: cp_model.IntVar
    ) -> cp_model.IntVar:
        slot, place = moment
        after = self.model.new_bool_var(f"s{string}@{slot}.{place}")
        changes: list[cp_model.LinearExprT] = []
        reach = self.problem.strings[string].reach
        for number, hand in enumerate(self.problem.hands):
            left = self.problem.slots[slot].times[place].slack[number][reach]
            if left < 0 or reach not in hand.reaches:
                continue
            for raised in (0, 1):
                act = self.model.new_bool_var(f"m{string}.{slot}.{place}.{number}.{raised}")
                self.acts[string, raised, slot, place, number] = act
                self._unlocked(string, act, time, time - hand.move)
                changes.append(act if raised else -act)
        self.model.add(after == before + sum(changes))
        return after

    def _unlocked(self, string: int, act: cp_model.IntVar, time: int, begin: int) -> None:
        plucks = [
            (visit.time, lock, pick)
            for visit in self.problem.visits
            if visit.time < time
            for choice, lock, pick in zip(
                self.problem.notes[visit.note].choices,
                visit.locks,
                self.picks[visit.note],
                strict=True,
            )
            if any(plucked == string for plucked, _ in choice.demands)
        ]
        for when, lock, pick in plucks:
            if lock > begin:
                later = [other for other_when, _, other in plucks if other_when > when]
                self.model.add_bool_or([act.negated(), pick.negated(), *later])

    def _hands(self) -> None:
        timed = [
            (hand, self.problem.slots[slot].times[place].time, act)
            for (_, _, slot, place, hand), act in self.acts.items()
        ]
        for (hand, time, act), (other_hand, later, other) in combinations(timed, 2):
            if hand == other_hand and abs(later - time) < self.problem.hands[hand].move:
                self.model.add_bool_or([act.negated(), other.negated()])

    def _printed(self) -> None:
        printed: dict[tuple[int, int, int, int], cp_model.IntVar] = {}
        hurried: dict[tuple[int, int, int, int], cp_model.IntVar] = {}
        prices = self.problem.prices
        for (string, raised, slot, place, hand), act in self.acts.items():
            key = (string, raised, slot, hand)
            if key not in printed:
                printed[key] = self.model.new_bool_var(f"p{key}")
                hurried[key] = self.model.new_bool_var(f"h{key}")
                price = prices.move + self.problem.hands[hand].price
                self.cost.append((price + self.problem.slots[slot].price) * printed[key])
                self.cost.append(prices.hurried * hurried[key])
            self.model.add_implication(act, printed[key])
            reach = self.problem.strings[string].reach
            if self.problem.slots[slot].times[place].slack[hand][reach] < prices.hurried_below:
                self.model.add_implication(act, hurried[key])
