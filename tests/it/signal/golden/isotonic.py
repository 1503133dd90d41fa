"""Writes isotonic.csv: weighted isotonic regressions of a reference library.

Run: pip install scikit-learn==1.9.1, then python isotonic.py > isotonic.csv
Each line: case, then triples value, weight, fitted, in order.
"""

import random
import sys

import sklearn
from sklearn.isotonic import isotonic_regression

random.seed(20)
print(f"# scikit-learn {sklearn.__version__}, sklearn.isotonic.isotonic_regression, increasing")
cases = []
for size in (1, 2, 3, 5, 8, 13, 40, 120):
    plain = [float(random.randint(0, 9)) for _ in range(size)]
    cases.append((plain, [1.0] * size))
    ramp = [index + random.gauss(0.0, 3.0) for index in range(size)]
    cases.append((ramp, [random.choice([0.1, 1.0, 2.5, 10.0]) for _ in range(size)]))
    sweep = [250e3 * index / size + random.gauss(0.0, 300.0) for index in range(size)]
    for _ in range(size // 10):
        sweep[random.randrange(size)] += random.choice([2500.0, 7500.0, 60e3])
    cases.append((sweep, [1.0] * size))
for number, (values, weights) in enumerate(cases):
    fitted = isotonic_regression(values, sample_weight=weights)
    row = [str(number)]
    for triple in zip(values, weights, fitted):
        row += [repr(float(part)) for part in triple]
    print(",".join(row))
sys.stdout.flush()
