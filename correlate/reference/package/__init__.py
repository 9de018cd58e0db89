"""Packages of reference data: a BagIt bag that another company can verify.

Making one is in ``create``, comparing one with its lists in ``verify``, ``listing``, ``names`` and
``zip_layout``, keys in ``keys``, signatures in ``signature``, whose signature is accepted in ``trust``,
photos and films in ``media``, the packages of a project in ``received`` and ``releasing``. All of them
stream: no file is ever in memory as a whole, except the one load case that is being checked.
"""
