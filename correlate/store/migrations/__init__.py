"""The steps that bring a store of any age to the present tables; one file a step, never changed later."""
