"""evaluate.py DIR AS_OF PLAN.json [--home EUR] [--option k=v]: checks the output of `reorder --json` against the reference.

Everything is computed again: order days, arrival, packs, breaks, minimum order, postage, duty, totals, coverage, credit, cost, objective."""
import argparse, json, math, sys
from collections import defaultdict
from datetime import date, timedelta
from fractions import Fraction as F
from shop import Shop, Greedy, FOREVER, EXPONENT, amount, half_up, add

WINDOW, WORTH = 60, F(1, 2)


def minor(text, currency):
    return F(str(text)) * 10 ** EXPONENT.get(currency, 2)


def credit_of(s, deliveries, window=WINDOW, worth=WORTH):
    """deliveries: (item, amount, a, e).  -> (short requirements, credit in home minor units).  Exact, by augmenting paths."""
    by = defaultdict(list)
    for item, q, a, e in deliveries:
        by[item].append((q, a, e))
    need = defaultdict(list)
    for r in s.reqs:
        need[r['item']].append(r)
    N = (s.H - s.D0).days + 1
    missing, credit = [], F(0)
    for item in sorted(set(by) | set(need)):
        lots = by[item]; g = Greedy([q * N for q, _, _ in lots])
        for r in sorted(need[item], key=lambda r: (r['d'], r['h'])):
            got = g.fill(r['q'] * N, [k for k, (q, a, e) in enumerate(lots) if a <= r['d'] and r['h'] <= e])
            if got < r['q'] * N:
                missing.append((r, F(got, N)))
        gross = sum(z['q'] for z in s.demands.get(item, []))     # r x days x N = gross x days
        total = 0
        for k, (q, a, e) in enumerate(lots):
            days = min(window, max(0, (e - s.H).days))
            total += g.fill(gross * days, [k])
        total = F(min(total, gross * window), N)
        credit += total * worth * s.lowest_landed(item)
    return missing, credit


def check_plan(s, plan, exact_rounding=True):
    """-> (list of faults, dict of figures in home minor units)"""
    bad = []
    home = s.home
    deliveries = []; cost_a = cost_b = F(0); seen = set()
    packs_of = {}
    for n, o in enumerate(plan['orders']):
        where = f"order {n + 1} {o['supplier']} on {o['order_on']}"
        sup = s.suppliers.get(o['supplier'])
        if not sup:
            bad.append(f'{where}: unknown supplier'); continue
        t = date.fromisoformat(o['order_on']); a = t + timedelta(sup['lead'])
        if t < s.D0: bad.append(f'{where}: before D0')
        if not s.may_order(sup, t): bad.append(f'{where}: not an order day')
        if a.isoformat() != o['arrives_on']: bad.append(f"{where}: arrives {o['arrives_on']}, should be {a}")
        if (o['supplier'], t) in seen: bad.append(f'{where}: two orders to the same supplier on one day')
        seen.add((o['supplier'], t))
        cur = sup['currency']
        if o['currency'] != cur: bad.append(f"{where}: currency {o['currency']}, should be {cur}")
        goods = weight = F(0); lines = set()
        for l in o['lines']:
            m = s.materials.get(l['material'])
            try:
                pack = amount(l['pack'], ',' in l['pack'], m['density'])[0]
            except Exception as e:
                bad.append(f"{where}: pack {l['pack']!r} of {l['material']} not understood ({e})"); continue
            offer = s.offers.get((o['supplier'], l['material'], pack))
            if not offer:
                bad.append(f"{where}: no offer {l['material']} {l['pack']}"); continue
            if offer['label'].replace(',', '.') != l['pack'].replace(',', '.'): bad.append(f"{where}: pack written {l['pack']!r}, offer says {offer['label']!r}")
            if (l['material'], pack) in lines: bad.append(f"{where}: offer {l['material']} {l['pack']} on two lines")
            lines.add((l['material'], pack))
            k = l['packs']; price = s.price(offer, k)
            if price is None or k < 1: bad.append(f"{where}: {k} packs of {l['material']} cannot be bought"); continue
            if minor(l['price'], cur) != price: bad.append(f"{where}: price of {l['material']} {l['price']}, should be {float(price)} minor")
            if l['amount'] != k * pack or l['unit'] != m['unit']: bad.append(f"{where}: amount of {l['material']} {l['amount']} {l['unit']}, should be {k * pack} {m['unit']}")
            goods += k * price; weight += s.weight(offer, k)
            e = s.life_end(offer, a)
            if not any(r['item'] == l['material'] and a <= r['d'] and r['h'] <= e for r in s.reqs):
                bad.append(f"{where}: line {l['material']} {l['pack']} can serve no requirement")
            deliveries.append((l['material'], k * pack, a, e))
        if goods < sup['minimum']: bad.append(f"{where}: goods {float(goods)} below the minimum order {float(sup['minimum'])}")
        if minor(o['goods'], cur) != goods: bad.append(f"{where}: goods {o['goods']}, should be {float(goods)} minor")
        post = s.postage(sup, goods, weight); duty = goods * sup['duty']
        if minor(o['postage'], cur) != post: bad.append(f"{where}: postage {o['postage']}, should be {float(post)} minor (weight {float(weight)})")
        if abs(minor(o['duty'], cur) - duty) > F(1, 2): bad.append(f"{where}: duty {o['duty']}, should be {float(duty)} minor")
        if abs(minor(o['total'], cur) - (goods + post + duty)) > F(1, 2): bad.append(f"{where}: total {o['total']}, should be {float(goods + post + duty)} minor")
        cost_a += half_up(s.to_home(goods + post + duty, cur))               # exact until the home minor unit
        cost_b += half_up(s.to_home(goods + post + half_up(duty), cur))      # duty to the supplier's minor unit first
    missing, credit = credit_of(s, deliveries)
    for r, got in missing:
        bad.append(f"not covered: {r['item']} on {r['d']} through {r['h']}: needs {r['q']}, gets {float(got)}")
    cost = minor(plan['cost'], home); cr = minor(plan['credit'], home); obj = minor(plan['objective'], home); low = minor(plan['lower_bound'], home)
    if cost not in (cost_a, cost_b): bad.append(f'cost {float(cost)}, should be {cost_a} (or {cost_b} with duty rounded first)')
    if abs(cr - credit) > 1: bad.append(f'credit {float(cr)}, should be {float(credit):.3f}')
    if abs(obj - (cost - cr)) > 1: bad.append(f'objective {float(obj)} is not cost - credit {float(cost - cr)}')
    if low > obj: bad.append(f'lower bound {float(low)} above the objective {float(obj)}')
    gap = float((obj - low) / obj) if obj > 0 else 0.0
    if obj > 0 and abs(float(plan['gap']) - gap) > 2e-4: bad.append(f"gap {plan['gap']}, should be {gap:.6f}")
    return bad, dict(cost=float(cost_a), credit=float(credit), objective=float(cost_a - credit), reported_objective=float(obj), lower_bound=float(low), gap=gap)


def main():
    p = argparse.ArgumentParser()
    p.add_argument('dir'); p.add_argument('as_of'); p.add_argument('plan'); p.add_argument('--home', default='EUR'); p.add_argument('--option', action='append', default=[])
    a = p.parse_args()
    plan = json.load(open(a.plan))
    s = Shop(a.dir, date.fromisoformat(a.as_of), a.home, **dict(o.split('=') for o in a.option))
    s.run(date.fromisoformat(plan['through'])); s.requirements()
    bad, figures = check_plan(s, plan)
    print(json.dumps(dict(faults=bad, figures=figures), indent=1))
    sys.exit(1 if bad else 0)


if __name__ == '__main__':
    main()
