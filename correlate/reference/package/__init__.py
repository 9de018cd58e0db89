"""Packages of reference data: a BagIt bag that another company can verify.

Making one is in ``making``, trusting one in ``verifying`` and ``unpacking``, keys in ``signature``. All of
them stream: no file is ever in memory as a whole, except the one load case that is being checked.
"""
