"""What every test shares: Hypothesis draws the same cases on every run and on any machine."""

from hypothesis import settings

# A slow machine is no fault of the code, so no case has a deadline; a fixed draw makes a red run
# repeatable. `pytest --hypothesis-profile=search` draws new cases, for a longer look.
settings.register_profile("house", deadline=None, derandomize=True)
settings.register_profile("search", deadline=None, max_examples=2_000)
settings.load_profile("house")
