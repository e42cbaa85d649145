"""Build and fill every workbook in this folder."""

from pathlib import Path

from . import job_list, one_installation
from .look import finish


def main() -> None:
    folder = Path(__file__).parent
    for module in (job_list, one_installation):
        path = folder / module.FILE_NAME
        module.build(path)
        print(path.name, finish(path).as_text(), sep="\n")


if __name__ == "__main__":
    main()
