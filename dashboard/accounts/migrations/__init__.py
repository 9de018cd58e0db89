"""The steps that bring accounts of any age to the present tables; one file per step, never changed."""
