"""What pyproject.toml cannot say: a built package holds the ready-made exercises, which stand at the top of a clone."""

import shutil
from pathlib import Path

from setuptools import setup
from setuptools.command.build_py import build_py


class WithExercises(build_py):
    """Puts the exercises and their briefs into trainer/exercises of what is built. A clone that is installed to be worked
    on uses its own folder.
    """

    def run(self) -> None:
        super().run()
        if not self.editable_mode:
            target = Path(self.build_lib) / "trainer" / "exercises"
            target.mkdir(parents=True, exist_ok=True)
            for file in sorted(Path("exercises").glob("*.*")):
                shutil.copyfile(file, target / file.name)


setup(cmdclass={"build_py": WithExercises})
