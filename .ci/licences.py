"""The licence of every distribution that is installed beside this Python, one a line."""

from importlib.metadata import Distribution, distributions


def licence(one: Distribution) -> str:
    """As it says itself: the expression, else the classifiers, else the first line of the old field."""
    said = one.metadata
    classified = [line.rpartition(" :: ")[2] for line in said.get_all("Classifier") or () if line.startswith("License")]
    lines = (said.get("License") or "").splitlines()
    return said.get("License-Expression") or ", ".join(classified) or (lines[0] if lines else "not said")


for found in sorted(distributions(), key=lambda one: one.metadata["Name"].lower()):
    print(f"{found.metadata['Name']} {found.version}: {licence(found)}")
