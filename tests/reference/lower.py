"""lower.py DIR AS_OF [--through D] [--seconds 60] [--home EUR] [--plan-out FILE]: section 5 as a MILP in HiGHS.

Prints best objective found (re-computed exactly, home minor units) and the dual bound.  Rounding of orders to the minor unit is
outside the MILP (and a parcel within 10 mg below a weight band counts as above it): the bound is lowered by half a minor unit for each order day that could be used in the best plan (kept as `slack`)."""
import argparse, ctypes, json, math, os, sys
from contextlib import contextmanager
from collections import defaultdict
from datetime import date, timedelta
from fractions import Fraction as F
import highspy
from shop import Shop, FOREVER, EXPONENT, half_up
from evaluate import credit_of, check_plan, WINDOW, WORTH

INF = highspy.kHighsInf


@contextmanager
def quiet():
    """HiGHS writes its banner to file descriptor 1, whatever it is told"""
    sys.stdout.flush(); old = os.dup(1); null = os.open(os.devnull, os.O_WRONLY); os.dup2(null, 1)
    try:
        yield
    finally:
        ctypes.CDLL(None).fflush(None); os.dup2(old, 1); os.close(old); os.close(null)


class Model:
    def __init__(self):
        self.lo, self.hi, self.c, self.int, self.rows = [], [], [], [], []

    def var(self, lo=0.0, hi=INF, c=0.0, integer=False):
        self.lo.append(lo); self.hi.append(hi); self.c.append(c); self.int.append(integer)
        return len(self.lo) - 1

    def row(self, terms, lo=-INF, hi=INF):
        self.rows.append((terms, lo, hi))

    def solve(self, seconds, threads=1, gap=1e-7):
        with quiet():
            return self._solve(seconds, threads, gap)

    def _solve(self, seconds, threads, gap):
        h = highspy.Highs(); h.silent()
        h.setOptionValue('time_limit', float(seconds)); h.setOptionValue('mip_rel_gap', gap); h.setOptionValue('threads', threads)
        h.setOptionValue('mip_abs_gap', 1e-4)
        h.setOptionValue('mip_feasibility_tolerance', 1e-8); h.setOptionValue('primal_feasibility_tolerance', 1e-8)
        lp = highspy.HighsLp(); n = len(self.lo)
        lp.num_col_, lp.num_row_ = n, len(self.rows)
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = self.c, self.lo, self.hi
        lp.row_lower_ = [r[1] for r in self.rows]; lp.row_upper_ = [r[2] for r in self.rows]
        lp.integrality_ = [highspy.HighsVarType.kInteger if i else highspy.HighsVarType.kContinuous for i in self.int]
        start, index, value = [0], [], []
        for terms, _, _ in self.rows:
            for v, k in terms:
                index.append(v); value.append(float(k))
            start.append(len(index))
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_, lp.a_matrix_.index_, lp.a_matrix_.value_ = start, index, value
        h.passModel(lp); h.run()
        info = h.getInfo()
        return h.modelStatusToString(h.getModelStatus()), info.objective_function_value, info.mip_dual_bound, list(h.getSolution().col_value)


def order_days(s):
    """supplier -> its candidate order days: the latest that arrives in time, for each requirement it could serve"""
    out = defaultdict(set)
    for r in s.reqs:
        for o in s.offers_of[r['item']]:
            sup = s.suppliers[o['supplier']]; t = s.latest_order(sup, r['d'], s.D0)
            if t and s.life_end(o, t + timedelta(sup['lead'])) >= r['h']:
                out[o['supplier']].add(t)
    return {k: sorted(v) for k, v in sorted(out.items())}


def build(s, all_days=False):
    m = Model(); U = 100.0        # objective in home major units
    by = defaultdict(list)
    for r in s.reqs:
        by[r['item']].append(r)
    scale = {i: float(max(o['pack'] for o in s.offers_of[i])) for i in by}
    cover = {id(r): [] for r in s.reqs}
    credits = defaultdict(list)
    lines = []
    days = order_days(s)
    if all_days:
        last = max((r['d'] for r in s.reqs), default=s.D0)
        days = {c: [s.D0 + timedelta(k) for k in range((last - s.D0).days + 1) if s.may_order(s.suppliers[c], s.D0 + timedelta(k))] for c in days}
    for c, ts in days.items():
        sup = s.suppliers[c]; cur = sup['currency']; e10 = 10 ** EXPONENT.get(cur, 2)
        rate = float(s.to_home(1, cur)) * e10 / 100          # home major per supplier major
        for t in ts:
            a = t + timedelta(sup['lead']); goods, weight = [], []
            y = m.var(0, 1, integer=True); big = bigw = 0.0
            for o in (o for i in by for o in s.offers_of[i] if o['supplier'] == c):
                end = s.life_end(o, a)
                can = [r for r in by[o['material']] if a <= r['d'] and r['h'] <= end]
                if not can:
                    continue
                S = scale[o['material']]; P = o['pack'] / S
                gross = float(s.gross_per_day(o['material']))
                cap = gross * min(WINDOW, max(0, (end - s.H).days)) / S
                least = float(min(p for _, p in o['breaks'])) / e10
                want = math.ceil((sum(r['q'] for r in can) / S + cap) / P)
                spend = max([float(sup['minimum']) / e10, float(sup['free'] or 0) / e10] + ([float(f) / e10 for f, _ in sup['bands']] if sup['by'] == 'value' else [0]))
                top = max(want, o['breaks'][-1][0], math.ceil(spend / least) if least else 0) + 1
                packs = []
                for k, (frm, price) in enumerate(o['breaks']):
                    upto = min(top, o['breaks'][k + 1][0] - 1) if k + 1 < len(o['breaks']) else top
                    if upto < frm:
                        continue
                    p = float(price) / e10
                    n = m.var(0, upto, rate * p * (1 + float(sup['duty'])), True)
                    z = m.var(0, 1, integer=True)
                    m.row([(n, 1), (z, -upto)], hi=0); m.row([(n, 1), (z, -frm)], lo=0)
                    packs.append((n, z)); goods.append((n, p)); weight.append((n, float(s.weight(o, 1)) / 1e3))
                    big += upto * p; bigw += upto * float(s.weight(o, 1)) / 1e3
                m.row([(z, 1) for _, z in packs] + [(y, -1)], hi=0)
                takes = []
                for r in can:
                    x = m.var(0, r['q'] / S); takes.append((x, 1)); cover[id(r)].append((x, 1))
                    if len(can) > 1 or True:
                        m.row([(x, 1)] + [(z, -r['q'] / S) for _, z in packs], hi=0)
                worth = float(s.lowest_landed(o['material']) * WORTH) / 100 * S
                if cap > 0 and worth > 0:
                    w = m.var(0, cap, -worth); takes.append((w, 1)); credits[o['material']].append((w, 1))
                m.row(takes + [(n, -P) for n, _ in packs], hi=0)
                lines.append((c, t, a, end, o, packs))
            if not goods:
                m.row([(y, 1)], hi=0); continue
            if sup['minimum']:
                m.row(goods + [(y, -float(sup['minimum']) / e10)], lo=0)
            free = sup['free']; terms = [(y, -1)]
            step = 1 / e10
            if free is not None:
                f = m.var(0, 1, integer=True); terms.append((f, 1))
                m.row(goods + [(f, -float(free) / e10)], lo=0)
            bands = sup['bands'] or [(F(0), sup['flat'])]
            pieces = []
            for k, (frm, fee) in enumerate(bands):
                b = m.var(0, 1, rate * float(fee) / e10, True); terms.append((b, 1)); pieces.append(b)
            m.row(terms, 0, 0)
            if sup['by'] == 'weight':
                pieces_hi = [(b, -(float(bands[k + 1][0]) - 10) / 1e3 if k + 1 < len(bands) else -bigw) for k, b in enumerate(pieces)]
                m.row(weight + pieces_hi + ([(f, -bigw)] if free is not None else []), hi=0)
                m.row(weight + [(b, -float(bands[k][0]) / 1e3) for k, b in enumerate(pieces)], lo=0)
            if free is not None or sup['by'] == 'value':
                hi = []
                for k, b in enumerate(pieces):
                    u = big
                    if sup['by'] == 'value' and k + 1 < len(bands): u = min(u, float(bands[k + 1][0]) / e10 - step)
                    if free is not None: u = min(u, float(free) / e10 - step)
                    hi.append((b, -u))
                m.row(goods + hi + ([(f, -big)] if free is not None else []), hi=0)
            if sup['by'] == 'value':
                m.row(goods + [(b, -float(bands[k][0]) / e10) for k, b in enumerate(pieces)], lo=0)
    for r in s.reqs:
        q = r['q'] / scale[r['item']]
        m.row(cover[id(r)], q, q)
    for i, w in credits.items():
        m.row(w, hi=float(s.gross_per_day(i)) * WINDOW / scale[i])
    return m, lines


def to_plan(s, lines, x):
    orders = {}
    for c, t, a, end, o, packs in lines:
        n = round(sum(x[v] for v, _ in packs))
        if n:
            orders.setdefault((t, c), []).append((o, n))
    out = []; cost = 0; deliveries = []
    dec = lambda v, cur: f'{float(F(v) / 10 ** EXPONENT.get(cur, 2)):.{EXPONENT.get(cur, 2)}f}'
    for (t, c), ls in sorted(orders.items()):
        sup = s.suppliers[c]; cur = sup['currency']; a = t + timedelta(sup['lead'])
        goods = sum(n * s.price(o, n) for o, n in ls); post = s.postage(sup, goods, sum(s.weight(o, n) for o, n in ls)); duty = goods * sup['duty']
        cost += half_up(s.to_home(goods + post + duty, cur))
        out.append(dict(supplier=c, order_on=t.isoformat(), arrives_on=a.isoformat(), currency=cur, goods=dec(goods, cur), postage=dec(post, cur), duty=dec(half_up(duty), cur),
            total=dec(half_up(goods + post + duty), cur), lines=[dict(material=o['material'], pack=o['label'], packs=n, price=dec(s.price(o, n), cur), amount=n * o['pack'], unit=s.materials[o['material']]['unit']) for o, n in ls]))
        deliveries += [(o['material'], n * o['pack'], a, s.life_end(o, a)) for o, n in ls]
    missing, credit = credit_of(s, deliveries)
    return out, cost, credit, missing


def optimum(s, seconds=60, threads=1, all_days=False):
    m, lines = build(s, all_days)
    if not s.reqs:
        return dict(status='nothing to buy', objective=0.0, bound=0.0, orders=[], cost=0, credit=0.0, missing=[], milp=0.0)
    status, obj, bound, x = m.solve(seconds, threads)
    if not x or obj >= 1e29:
        return dict(status=status, objective=None, bound=bound * 100 if abs(bound) < 1e29 else None, orders=[], cost=None, credit=None, missing=[], milp=None)
    orders, cost, credit, missing = to_plan(s, lines, x)
    return dict(status=status, objective=float(cost - credit), bound=bound * 100, orders=orders, cost=cost, credit=float(credit), missing=[str(r) for r in missing],
                milp=obj * 100, slack=0.5 * len(orders) + 1, variables=len(m.lo), rows=len(m.rows))


def main():
    p = argparse.ArgumentParser()
    p.add_argument('dir'); p.add_argument('as_of'); p.add_argument('--through'); p.add_argument('--home', default='EUR'); p.add_argument('--seconds', type=float, default=60)
    p.add_argument('--option', action='append', default=[]); p.add_argument('--plan-out')
    a = p.parse_args()
    s = Shop(a.dir, date.fromisoformat(a.as_of), a.home, **dict(o.split('=') for o in a.option))
    s.run(date.fromisoformat(a.through) if a.through else None); s.requirements()
    r = optimum(s, a.seconds)
    if a.plan_out:
        f = lambda v: f'{v / 100:.2f}'
        json.dump(dict(as_of=a.as_of, through=s.H.isoformat(), orders=r['orders'], cost=f(r['cost']), credit=f(half_up(F(r['credit']))), objective=f(r['cost'] - half_up(F(r['credit']))),
                       lower_bound=f(min(r['bound'], r['objective'] - 1)), gap=0, late=[]), open(a.plan_out, 'w'), indent=1)
    r['orders'] = len(r['orders'])
    print(json.dumps(r, indent=1))


if __name__ == '__main__':
    main()
