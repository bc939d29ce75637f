"""The exact lever planner: pitches, times and windows in, a plan out."""
