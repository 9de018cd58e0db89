"""The steps that bring a store of any age to the present tables; one file per step, never changed later."""
