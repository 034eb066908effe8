"""The way through what is left of setting: in which order, so that the set is moved least.

Purpose: tasks (a reading, a remedy, a turn, what is asked) with the set-up state of each and what comes before it ->
an order with the fewest minutes of moves between set-up states.
Law: exact. The minutes of the tasks are spent in any order, so that only the moves count; a task that can be done
where the set stands costs none and puts nothing off, so it is done at once; what is left to choose is where to go next,
and that is searched by cost (Dijkstra), ties by the order written.
Not here: what the next task is told (see `advice`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from math import fsum
from typing import TYPE_CHECKING

from ..compiler import Costs

if TYPE_CHECKING:
    import networkx as nx


@dataclass(frozen=True, slots=True)
class Task:
    """Something to do for a step. kind: read, work, turn, place or do; name: the check or remedy."""

    step: str
    kind: str
    name: str
    state: str
    minutes: float


@dataclass(frozen=True, slots=True)
class Plan:
    """An order of tasks and the minutes of its moves."""

    tasks: tuple[Task, ...]
    moves: float

    @property
    def minutes(self) -> float:
        """Moves and tasks together."""
        return self.moves + fsum(task.minutes for task in self.tasks)


def cheapest(costs: Costs, here: str, tasks: Sequence[Task], after: Mapping[int, Iterable[int]]) -> Plan:
    """The order with the fewest minutes of moves. after: place of a task -> places of those that come before it.

    Raises ValueError where they wait for one another in a circle.
    """
    waits = tuple(sum(1 << before for before in set(after.get(at, ()))) for at in range(len(tasks)))
    everything = (1 << len(tasks)) - 1

    def done_here(place: str, done: int, order: tuple[int, ...]) -> tuple[int, tuple[int, ...]]:
        more = True
        while more:
            more = False
            for at, task in enumerate(tasks):
                ready = not done >> at & 1 and waits[at] & ~done == 0
                if ready and costs.standing(place, task.state) == place:
                    done, order, more = done | 1 << at, (*order, at), True
        return done, order

    start, order = done_here(here, 0, ())
    queue: list[tuple[float, int, tuple[int, ...], str, int]] = [(0.0, 0, order, here, start)]
    seen: dict[tuple[str, int], float] = {}
    while queue:
        spent, hops, order, place, done = heappop(queue)
        if done == everything:
            return Plan(tuple(tasks[at] for at in order), spent)
        if seen.get((place, done), spent + 1.0) <= spent:
            continue
        seen[place, done] = spent
        ready = [at for at in range(len(tasks)) if not done >> at & 1 and waits[at] & ~done == 0]
        for there in dict.fromkeys(costs.standing(place, tasks[at].state) for at in ready):
            after_it, whole = done_here(there, done, order)
            heappush(queue, (spent + costs.moves[place, there], hops + 1, whole, there, after_it))
    raise ValueError("tasks wait for one another in a circle")


def in_order(costs: Costs, here: str, tasks: Sequence[Task], after: Mapping[int, Iterable[int]]) -> Plan:
    """The plain answer: a topological order, the earliest written first, whatever moves it takes."""
    import networkx as nx  # late: it is slow to import

    graph: nx.DiGraph[int] = nx.DiGraph()
    graph.add_nodes_from(range(len(tasks)))
    graph.add_edges_from((before, at) for at, befores in after.items() for before in befores)
    order = tuple(tasks[at] for at in nx.lexicographical_topological_sort(graph))
    return Plan(order, moves_of(costs, here, order))


def moves_of(costs: Costs, here: str, order: Iterable[Task]) -> float:
    """Minutes of the moves of an order."""
    spent = 0.0
    for task in order:
        spent += costs.move(here, task.state)
        here = costs.standing(here, task.state)
    return spent
