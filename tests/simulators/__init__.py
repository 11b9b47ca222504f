"""Independent truth for the tests: colonies, keepers and scores that know nothing of the package.

Nothing in this folder imports `antgrowth`; it may only use numpy, scipy and pandas. A formula that
is wrong in the package must not be wrong here for the same reason, so the laws are written a
second time and in another way: here every egg is an individual with its own fate, where the
package works with the numbers expected in a cohort.

=============  =================================================================================
individuals    bookkeeping: lives into daily counts; no biology
one_ant        the package's law, one ant at a time
other_laws     three other laws, for honest calibration; scatter of colonies
notes          a keeper's patchy log made from true daily counts
baselines      log-linear extrapolation, and plain formulas of the scores
=============  =================================================================================
"""
