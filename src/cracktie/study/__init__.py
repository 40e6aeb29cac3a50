"""Studies of one wrapped span: samples of uncertain inputs, sensitivities, sweeps, maps and goal seek."""

from cracktie.study.run import (
    GoalSeek,
    MonteCarlo,
    Sensitivity,
    evaluate_span,
    goal_seek,
    monte_carlo,
    sensitivities,
    sweep,
)
from cracktie.study.sampling import Variable, own_variables, samples

__all__ = [
    "GoalSeek", "MonteCarlo", "Sensitivity", "Variable", "evaluate_span", "goal_seek", "monte_carlo",
    "own_variables", "samples", "sensitivities", "sweep",
]  # fmt: skip
