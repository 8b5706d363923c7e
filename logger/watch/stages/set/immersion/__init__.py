"""Which piece was in the bath from when to when, from the scale under the bath alone.

A hidden Markov model: the hidden state is the set of pieces in the bath, the observations are the
changes between steady levels of the scale, and forward-backward over its trellis gives the
probability of each immersion. In reading order:

- ``detector``: the door; readings and statements of the operator in, table of immersions out.
- ``segmentation``: online change-point detection, from readings to steady levels.
- ``edges``: when and how fast the level went from one to the next.
- ``stairs``: one edge of several moves by which a piece was lowered.
- ``states``: hidden states, events, and the observed change of level with its uncertainty.
- ``likelihood``: log-priors of events, log-likelihoods of masses, dwells and rise times.
- ``weights``: parts of which log-weights are made: who comes next, its mass, dwell and rise.
- ``hidden``: what one gap of the scale may hide.
- ``hypotheses``: the transitions, everything that may explain a change of level.
- ``trellis``: forward-backward and the best path, with pruning.
- ``estimation``: the model's parameters from the run itself, by turns with the trellis.
- ``assignment``: linear assignment of dips to exits, and of rows to piece numbers.
- ``ends``: when a piece went in or came out, as a moment or an interval.
- ``table``: rows with times, confidence and candidates.
- ``gaps``: pieces that went in while the scale was silent and more happened.
"""
