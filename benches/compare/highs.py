"""highs.py BINARY SIZE SEED SECONDS: one workshop of tests/reference/maker.py, planned by the program with 0.1, 1 and 10
seconds and by HiGHS on the textbook model (tests/reference/lower.py) with SECONDS on one thread, side by side."""
import json, os, sys, tempfile, time
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), '..', '..', 'tests', 'reference'))
import maker
from compare import run
from lower import optimum
from shop import Shop


def main():
    binary, size, seed, seconds = os.path.abspath(sys.argv[1]), sys.argv[2], int(sys.argv[3]), float(sys.argv[4])
    work = tempfile.mkdtemp()
    folder, store = os.path.join(work, 'files'), os.path.join(work, 'workshop.db')
    maker.make(seed, size, folder, False, False)
    done, _ = run(binary, ['import', folder], store)
    assert done.returncode == 0, done.stderr
    for allowed in (0.1, 1, 10):
        done, elapsed = run(binary, ['reorder', '--json', '--seconds', str(allowed)], store)
        plan = json.loads(done.stdout)
        print(f"stillroom {allowed:>4} s: objective {plan['objective']}, bound {plan['lower_bound']}, gap {plan['gap']:.4%} ({elapsed:.2f} s in all)", flush=True)
    shop = Shop(folder, maker.D0)
    shop.run(None)
    shop.requirements()
    start, used = time.time(), time.process_time()
    found = optimum(shop, seconds, threads=1)
    objective = 'none' if found['objective'] is None else f"{found['objective'] / 100:.2f}"
    print(f"HiGHS {seconds:.0f} s: {found['status']}, objective {objective}, bound {(found['bound'] or 0) / 100:.2f} ({time.time() - start:.0f} s, {time.process_time() - used:.0f} s of processor, load {os.getloadavg()[1]:.1f})")


if __name__ == '__main__':
    main()
