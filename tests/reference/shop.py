"""Reads a workshop in the file contract and works out Stillroom's results, independently, in Fractions and ints.

Written from the file contract (docs/files.md) and the model (docs/model.md, 1 to 5) alone, without a look at the Rust code.  Switches for what the documents leave open: OPTIONS.
"""
import csv, io, os, re, calendar
from bisect import bisect_right
from collections import defaultdict
from datetime import date, timedelta
from fractions import Fraction as F
from itertools import combinations

FOREVER = date.max
OPTIONS = {
    'past': 'd0',           # entries made before D0: 'd0' dated D0 (literal), 'drop' left out
    'lot_rate': 'newest',  # a lot's cost in a foreign currency: 'newest' rate (docs/model.md, 6) or rate of 'received' day
    'expired': 'count',     # lots already expired on D0: 'count' in the value at risk (literal), 'skip'
    'expire_day': 'next',   # unused rest leaves the balance on the day after usable-through ('next') or 'same'
    'late': 'first',        # a late requirement goes to the 'first' possible delivery, or to 'any' later one whose life reaches h
    'horizon': 'end',       # with --through: explode everything, then cut ('end'), or cut premix demands as well ('start')
    'fefo_opening': 'yes',  # balance of section 4: FEFO draws open lots ('yes') or not ('no')
    'order_life': 'offer',  # open order without an offer of that pack: 'offer' -> any offer of supplier+material, else for ever
}
EXPONENT = {'JPY': 0, 'KRW': 0, 'ISK': 0, 'CLP': 0, 'VND': 0, 'KWD': 3, 'BHD': 3, 'TND': 3}
MASS = {'mg': F(1), 'g': F(1000), 'kg': F(10**6), 'oz': F('28.349523125') * 1000, 'lb': F('453.59237') * 1000}
VOLUME_ML = {'ml': F(1), 'l': F(1000), 'fl oz': F('29.5735295625'), 'tsp': F('4.92892159375'), 'tbsp': F('14.78676478125')}


def half_up(x):
    x = F(x)
    return (2 * x.numerator + x.denominator) // (2 * x.denominator)


# ---------------------------------------------------------------- reading
def read_csv(path):
    text = open(path, 'rb').read().decode('utf-8-sig')
    head = text.split('\n', 1)[0]
    delimiter = max(',;\t', key=head.count)
    rows = list(csv.reader(io.StringIO(text, newline=''), delimiter=delimiter))
    names = [c.strip() for c in rows[0]]
    out = []
    for r in rows[1:]:
        if any(c.strip() for c in r):
            row = {n: c.strip() for n, c in zip(names, r)}
            row['_comma'] = delimiter != ','
            out.append(row)
    return out


def number(row, key, default=None):
    s = row.get(key, '')
    if s == '':
        return default
    return to_number(s, row['_comma'])


def to_number(s, comma):
    return F(s.replace(',', '.') if comma else s)


def day(s):
    return date.fromisoformat(s) if s else None


def amount(s, comma, density=None):
    """-> (integer mg, 'mg') or (integer, 'pcs')"""
    m = re.fullmatch(r'([0-9.,]+)\s*([A-Za-z ]+)', s.strip())
    n, unit = to_number(m.group(1), comma), ' '.join(m.group(2).split()).lower()
    if unit in ('pcs', 'pc', 'piece', 'pieces'):
        return int(n), 'pcs'
    if unit in MASS:
        return half_up(n * MASS[unit]), 'mg'
    return half_up(n * VOLUME_ML[unit] * density * 1000), 'mg'


def duration(s):
    """-> (months, days) or None"""
    if not s:
        return None
    m = re.fullmatch(r'(\d+)\s*(day|week|month|year)s?', s.strip())
    if m:
        n = int(m.group(1))
        return {'day': (0, n), 'week': (0, 7 * n), 'month': (n, 0), 'year': (12 * n, 0)}[m.group(2)]
    m = re.fullmatch(r'P(?:(\d+)Y)?(?:(\d+)M)?(?:(\d+)W)?(?:(\d+)D)?', s.strip())
    y, mo, w, d = (int(g or 0) for g in m.groups())
    return (12 * y + mo, 7 * w + d)


def add(d, dur):
    if dur is None or d == FOREVER:
        return FOREVER
    months, days = dur
    k = d.year * 12 + d.month - 1 + months
    y, m = divmod(k, 12)
    return date(y, m + 1, min(d.day, calendar.monthrange(y, m + 1)[1])) + timedelta(days)


WEEKDAYS = ['mon', 'tue', 'wed', 'thu', 'fri', 'sat', 'sun']


class Shop:
    def __init__(self, folder, as_of, home='EUR', **options):
        self.opt = dict(OPTIONS, **options)
        self.D0, self.home = as_of, home
        t = {}
        for n in ('materials suppliers postage offers rates lots orders formulas premixes products packaging plan').split():
            p = os.path.join(folder, n + '.csv')
            t[n] = read_csv(p) if os.path.exists(p) else []
        self.materials = {}
        for r in t['materials']:
            dens = number(r, 'density')
            m = dict(code=r['code'], packaging=r.get('kind') == 'packaging', density=dens,
                     unopened=duration(r.get('unopened_life')), opened_life=duration(r.get('opened_life')),
                     always=r.get('always_at_hand', '').lower() == 'yes')
            m['unit'] = 'pcs' if m['packaging'] else 'mg'
            m['safety'] = amount(r['safety_stock'], r['_comma'], dens)[0] if r.get('safety_stock') else 0
            m['piece_mass'] = amount(r['piece_mass'], r['_comma'])[0] if r.get('piece_mass') else 0
            self.materials[r['code']] = m
        self.rates = defaultdict(list)
        for r in t['rates']:
            self.rates[r['currency']].append((day(r['date']), number(r, 'rate')))
        for v in self.rates.values():
            v.sort()
        self.suppliers = {}
        for r in t['suppliers']:
            closed = []
            for piece in filter(None, (x.strip() for x in r.get('closed', '').split(';'))):
                a, b = piece.split('/')
                if b.startswith('P'):
                    closed.append((day(a), add(day(a), duration(b))))
                elif a.startswith('P'):
                    mo, d_ = duration(a); closed.append((add(day(b), (-mo, -d_)), day(b)))
                else:
                    closed.append((day(a), day(b)))
            wd = {WEEKDAYS.index(w[:3].lower()) for w in r.get('order_weekdays', '').split()} or set(range(7))
            cur = r['currency']; sc = 10 ** EXPONENT.get(cur, 2)
            money = lambda k: None if r.get(k, '') == '' else number(r, k) * sc
            self.suppliers[r['code']] = dict(code=r['code'], currency=cur, lead=int(r['lead_time_days']), weekdays=wd, closed=closed,
                minimum=money('minimum_order') or F(0), flat=money('postage') or F(0), free=money('free_postage_from'),
                duty=number(r, 'duty', F(0)) / 100, bands=[], by=None)
        for r in t['postage']:
            s = self.suppliers[r['supplier']]; sc = 10 ** EXPONENT.get(s['currency'], 2)
            s['by'] = r.get('by') or s['by'] or 'value'
            frm = number(r, 'from') * sc if s['by'] == 'value' else F(amount(r['from'], r['_comma'])[0])
            s['bands'].append((frm, number(r, 'fee') * sc))
        for s in self.suppliers.values():
            s['bands'].sort()
        self.offers = {}
        for r in t['offers']:
            m = self.materials[r['material']]; s = self.suppliers[r['supplier']]
            pack = amount(r['pack'], r['_comma'], m['density'])[0]
            o = self.offers.setdefault((r['supplier'], r['material'], pack), dict(supplier=r['supplier'], material=r['material'], pack=pack,
                 label=r['pack'], life=None, breaks=[]))
            o['breaks'].append((int(number(r, 'from_packs', F(1))), number(r, 'price') * 10 ** EXPONENT.get(s['currency'], 2)))
            if r.get('life_on_arrival'):
                o['life'] = duration(r['life_on_arrival'])
        for o in self.offers.values():
            o['breaks'].sort()
        self.offers_of = defaultdict(list)
        for o in self.offers.values():
            self.offers_of[o['material']].append(o)
        self.premixes = {r['code']: dict(code=r['code'], formula=r['formula'], ahead=int(r.get('make_ahead_days') or 0),
                         loss=number(r, 'loss', F(0)) / 100, life=duration(r.get('life'))) for r in t['premixes']}
        self.formulas = defaultdict(lambda: defaultdict(list))
        for r in t['formulas']:
            p = r['percent']
            self.formulas[r['formula']][r.get('version') or '1'].append((r['ingredient'], None if p.lower() == 'balance' else number(r, 'percent')))
        self.products = {}
        for r in t['products']:
            self.products[r['code']] = dict(code=r['code'], formula=r['formula'], version=r.get('version') or None,
                net=amount(r['net_mass'], r['_comma'])[0] if r.get('net_mass') else None,
                per_mould=int(r.get('pieces_per_mould') or 0), loss=number(r, 'loss', F(0)) / 100,
                wait=int(r.get('setting_days') or 0) + int(r.get('curing_days') or 0), minimum=duration(r.get('minimum_life')))
        self.packaging = defaultdict(list)
        for r in t['packaging']:
            self.packaging[r['product']].append((r['material'], number(r, 'per_piece', F(0)), number(r, 'per_batch', F(0))))
        self.entries = []
        for i, r in enumerate(t['plan']):
            p = self.products[r['product']]
            m = re.fullmatch(r'([0-9.,]+)\s*([A-Za-z ]+)', r['amount'])
            n, unit = to_number(m.group(1), r['_comma']), m.group(2).lower()
            if unit.startswith('mould'):
                pieces = int(n * p['per_mould']); net = pieces * p['net']
            elif unit in ('pcs', 'pc'):
                pieces = int(n); net = pieces * p['net']
            else:
                net = amount(r['amount'], r['_comma'])[0]; pieces = net // p['net'] if p['net'] else 0
            make = day(r.get('make_on')) or day(r['ready_by']) - timedelta(p['wait'])
            self.entries.append(dict(code=r['entry'], row=i, product=p, pieces=pieces, net=net, make=make))
        self._supply(t)

    # ------------------------------------------------------------ money
    def rate(self, currency, on):
        if currency == self.home or not currency:
            return F(1)
        rows = self.rates[currency]
        i = bisect_right([d for d, _ in rows], on)
        if i == 0:
            raise KeyError(f'no rate for {currency} on {on}')
        return rows[i - 1][1]

    def to_home(self, minor, currency, on=None):
        """minor units of `currency` (Fraction) -> minor units of home (Fraction, not rounded)"""
        e = 10 ** EXPONENT.get(currency, 2); h = 10 ** EXPONENT.get(self.home, 2)
        return F(minor) / e * self.rate(currency, on or self.D0) * h

    # ------------------------------------------------------------ supply (section 2)
    def _supply(self, t):
        self.lots = defaultdict(list); self.all_lots = {}
        for r in t['lots']:
            item = r['material']; pm = self.premixes.get(item); m = self.materials.get(item)
            unit_density = m['density'] if m else None
            q, _ = amount(r['amount'], r['_comma'], unit_density)
            received, opened = day(r.get('received')), day(r.get('opened'))
            life = pm['life'] if pm else m['unopened']
            best = day(r.get('best_before')) or (add(received, life) if received and life else FOREVER)
            opened_life = None if pm else m['opened_life']
            end = min(best, add(opened, opened_life)) if opened and opened_life else best
            cur = r.get('currency') or self.home
            cost = number(r, 'cost', F(0)) * 10 ** EXPONENT.get(cur, 2)
            on = self.D0
            if self.opt['lot_rate'] == 'received' and received and received <= self.D0 and cur != self.home:
                if self.rates[cur] and self.rates[cur][0][0] <= received:
                    on = received
            value = self.to_home(cost, cur, on)
            lot = dict(code=r['lot'], item=item, q=q, a=self.D0, e=end, unit=F(value) / q if q else F(0), state=r.get('state') or 'released',
                       fresh=(opened is None and opened_life is not None), life=opened_life, order=False)
            self.all_lots[r['lot']] = lot
            if lot['state'] == 'released':
                self.lots[item].append(lot)
        for r in t['orders']:
            m = self.materials[r['material']]; s = self.suppliers[r['supplier']]
            pack, _ = amount(r['pack'], r['_comma'], m['density']); packs = int(number(r, 'packs'))
            a = max(day(r['expected']), self.D0 + timedelta(1))
            o = self.offers.get((r['supplier'], r['material'], pack))
            if o is None and self.opt['order_life'] == 'offer':
                o = next((x for x in self.offers_of[r['material']] if x['supplier'] == r['supplier']), None)
            end = add(a, o['life']) if o and o['life'] else FOREVER
            price = number(r, 'price', F(0)) * 10 ** EXPONENT.get(s['currency'], 2)
            q = pack * packs
            lot = dict(code=r['order'], item=r['material'], q=q, a=a, e=end, unit=self.to_home(price * packs, s['currency']) / q, state='released',
                       fresh=m['opened_life'] is not None, life=m['opened_life'], order=True)
            self.all_lots.setdefault(r['order'], lot)
            self.lots[r['material']].append(lot)

    # ------------------------------------------------------------ explosion (section 1)
    def lines(self, formula, version=None):
        versions = self.formulas[formula]
        v = version or max(versions, key=lambda x: (F(x) if re.fullmatch(r'[0-9.]+', x) else F(0), x))
        rows = versions[v]
        rest = 100 - sum(p for _, p in rows if p is not None)
        return [(i, rest if p is None else p) for i, p in rows]

    def scale(self, lines, total):
        exact = [total * p / 100 for _, p in lines]
        whole = [x.numerator // x.denominator for x in map(F, exact)]
        left = total - sum(whole)
        for k in sorted(range(len(lines)), key=lambda k: (-(exact[k] - whole[k]), k))[:left]:
            whole[k] += 1
        return [(i, w) for (i, _), w in zip(lines, whole)]

    def horizon(self, through=None):
        if through:
            return through
        return max([e['make'] for e in self.entries] + [self.D0])

    def explode(self, through=None):
        """-> demands per item, sorted: dict(d,h,q,entry,key); premix demands get 'covered' as well"""
        H = self.H = self.horizon(through); D0 = self.D0
        pending = defaultdict(list); self.started_late = set()

        def put(item, d, h, q, e, key):
            if q <= 0:
                return
            if d < D0:
                self.started_late.add(e['code'])
            dd = max(d, D0)
            if self.opt['horizon'] == 'start' and dd > H:
                return
            pending[item].append(dict(item=item, d=dd, h=max(h, dd), q=q, entry=e['code'], key=(dd, e['row']) + key, true_day=d, e=e, path=key))

        for e in self.entries:
            if e['make'] < D0 and self.opt['past'] == 'drop':
                continue
            p = e['product']; make = e['make']
            h = add(make, p['minimum']) if p['minimum'] else make
            for k, (i, q) in enumerate(self.scale(self.lines(p['formula'], p['version']), half_up(F(e['net']) / (1 - p['loss'])))):
                put(i, make, h, q, e, (0, k))
            for k, (i, per_piece, per_batch) in enumerate(self.packaging[p['code']]):
                q = int(per_piece * e['pieces'] // 1) + int(per_batch)
                put(i, make, max(make, D0), q, e, (1, k))
        code = {}
        def depth(f, version, level):
            for i, _ in self.lines(f, version):
                if i in self.premixes:
                    if level > 50: raise ValueError('circle at ' + i)
                    if code.get(i, 0) < level:
                        code[i] = level
                        depth(self.premixes[i]['formula'], None, level + 1)
        for p in self.products.values():
            depth(p['formula'], p['version'], 1)
        self.covered, self.inexact = {}, []
        self.premix_allocation = {}
        for i in sorted(code, key=lambda i: (code[i], i)):
            x = self.premixes[i]
            ds = sorted(pending[i], key=lambda z: z['key'])
            result = allocate(ds, self.lots[i], H)
            self.premix_allocation[i] = (ds, result)
            for z, c in zip(ds, result['covered']):
                rest = z['q'] - c
                if rest > 0:
                    total = half_up(F(rest) / (1 - x['loss']))
                    for k, (j, q) in enumerate(self.scale(self.lines(x['formula']), total)):
                        put(j, z['true_day'] - timedelta(x['ahead']), z['h'], q, z['e'], z['path'] + (k,))
        self.demands = {}
        for i, ds in pending.items():
            self.demands[i] = sorted((z for z in ds if z['d'] <= H), key=lambda z: z['key'])
        return self.demands

    # ------------------------------------------------------------ allocation (section 3)
    def run(self, through=None):
        self.explode(through)
        H, D0 = self.H, self.D0
        self.results = {}; self.inexact = []
        items = sorted(set(self.demands) | set(self.lots))
        risk = F(0); self.risk_by_item = {}; gone = F(0)
        self.short = []
        for i in items:
            if i in self.premixes:
                ds, r = self.premix_allocation.get(i) or ([], allocate([], self.lots[i], H))
            else:
                ds = self.demands.get(i, [])
                if self.materials[i]['always'] and not self.lots[i]:
                    continue
                r = allocate(ds, self.lots[i], H)
                if not self.materials[i]['always']:
                    for z, c in zip(ds, r['covered']):
                        if c < z['q']:
                            self.short.append(dict(item=i, d=z['d'], h=z['h'], q=z['q'] - c, entry=z['entry']))
            self.results[i] = (ds, r)
            if not r['exact']:
                self.inexact.append(i)
            self.risk_by_item[i] = r['risk']
            risk += r['risk']
            gone += sum(l['q'] * l['unit'] for l in self.lots[i] if l['e'] < D0)
        self.risk_usable, self.risk_expired = risk - gone, gone
        self.risk = risk if self.opt['expired'] == 'count' else risk - gone
        return self

    # ------------------------------------------------------------ order days
    def may_order(self, s, t):
        return t.weekday() in s['weekdays'] and not any(a <= t <= b for a, b in s['closed'])

    def latest_order(self, s, d, floor=None):
        t = d - timedelta(s['lead'])
        for _ in range(1500):
            if floor and t < floor:
                return None
            if self.may_order(s, t):
                return t
            t -= timedelta(1)
        return None

    def earliest_order(self, s, start=None):
        t = start or self.D0
        for _ in range(1500):
            if self.may_order(s, t):
                return t
            t += timedelta(1)
        return None

    def order_by(self, item, d):
        days = [self.latest_order(self.suppliers[c], d) for c in {o['supplier'] for o in self.offers_of[item]}]
        return max((x for x in days if x), default=None)

    # ------------------------------------------------------------ balance and requirements (section 4)
    def balance(self, i):
        """days D0..H -> dict(receipts, demand, drawn, expired, balance) without purchases, FEFO, h ignored"""
        D0, H = self.D0, self.H
        ds, r = self.results.get(i, ([], dict(covered=[])))
        demand = defaultdict(int); take = defaultdict(int)
        for z, c in zip(ds, r['covered']):
            demand[z['d']] += z['q']; take[z['d']] += c
        lots = [dict(l, left=l['q']) for l in self.lots[i] if l['e'] >= D0]
        out = {}; t = D0
        while t <= H:
            receipts = sum(l['q'] for l in lots if l['order'] and l['a'] == t)
            expired = 0
            for l in lots:
                if l['e'] < t and l['left']:
                    expired += l['left']; l['left'] = 0
            want = take[t]
            for l in sorted((l for l in lots if l['a'] <= t <= l['e'] and l['left']), key=lambda l: (l['e'], l['a'], l['code'])):
                x = min(want, l['left'])
                if x:
                    l['left'] -= x; want -= x
                    if l['fresh'] and self.opt['fefo_opening'] == 'yes':
                        l['fresh'] = False; l['e'] = min(l['e'], add(t, l['life']))
            if self.opt['expire_day'] == 'same':
                for l in lots:
                    if l['e'] == t and l['left']:
                        expired += l['left']; l['left'] = 0
            out[t] = dict(receipts=receipts, demand=demand[t], drawn=take[t] - want, expired=expired,
                          balance=sum(l['left'] for l in lots if l['a'] <= t))
            t += timedelta(1)
        return out

    def life_end(self, o, a):
        return add(a, o['life'])

    def requirements(self):
        raw = defaultdict(int)
        for z in self.short:
            raw[z['item'], z['d'], z['h'], 'short'] += z['q']
        for i, m in self.materials.items():
            if m['safety'] and not m['always']:
                b = self.balance(i)
                low = min(x['balance'] for x in b.values())
                if low < m['safety']:
                    first = next(t for t, x in b.items() if x['balance'] < m['safety'])
                    raw[i, first, first, 'safety'] += m['safety'] - low
        self.reqs, self.late, self.left_out = [], [], []
        merged = defaultdict(int)
        for (i, d, h, kind), q in sorted(raw.items()):
            offers = self.offers_of[i]
            if not offers:
                self.left_out.append(dict(item=i, d=d, h=h, q=q, why='no offer', kind=kind)); continue
            if any(self.serves(o, d, h) for o in offers):
                merged[i, d, h] += q; continue
            best = None
            for o in offers:
                s = self.suppliers[o['supplier']]; t = self.earliest_order(s)
                for _ in range(1 if self.opt['late'] == 'first' else 1500):
                    if t is None:
                        break
                    a = t + timedelta(s['lead'])
                    if self.life_end(o, a) >= max(h, a):
                        best = a if best is None else min(best, a); break
                    t = self.earliest_order(s, t + timedelta(1))
            if best is None:
                self.left_out.append(dict(item=i, d=d, h=h, q=q, why='life', kind=kind)); continue
            self.late.append(dict(item=i, d=d, h=h, q=q, soonest=best, kind=kind))
            merged[i, best, max(h, best)] += q
        self.reqs = [dict(item=i, d=d, h=h, q=q) for (i, d, h), q in sorted(merged.items())]
        return self.reqs

    def serves(self, o, d, h):
        s = self.suppliers[o['supplier']]
        t = self.latest_order(s, d, self.D0)
        return t is not None and self.life_end(o, t + timedelta(s['lead'])) >= h

    def gross_per_day(self, i):
        return F(sum(z['q'] for z in self.demands.get(i, [])), (self.H - self.D0).days + 1)

    def lowest_landed(self, i):
        """home minor units per mg or piece, goods and duty, break 1"""
        return min((self.to_home(o['breaks'][0][1], self.suppliers[o['supplier']]['currency']) * (1 + self.suppliers[o['supplier']]['duty']) / o['pack']
                    for o in self.offers_of[i]), default=F(0))

    # ------------------------------------------------------------ one order's money (section 5)
    def postage(self, s, goods, weight):
        if s['free'] is not None and goods >= s['free']:
            return F(0)
        if not s['bands']:
            return s['flat']
        x = goods if s['by'] == 'value' else weight
        return [fee for frm, fee in s['bands'] if frm <= x][-1]

    @staticmethod
    def price(o, n):
        fits = [p for k, p in o['breaks'] if k <= n]
        return fits[-1] if fits else None

    def weight(self, o, n):
        m = self.materials[o['material']]
        return o['pack'] * n * (m['piece_mass'] if m['packaging'] else 1)


# ---------------------------------------------------------------- flows
class Greedy:
    """Left nodes are filled in turn, each as far as the right capacities allow without lessening earlier ones.
    By the augmenting-path argument this is the lexicographic maximum (and for lots by weight: the greatest weight)."""

    def __init__(self, capacity):
        self.free = list(capacity); self.flow = []; self.edges = []
        self.users = [dict() for _ in capacity]     # right -> left nodes that use it

    def copy(self):
        g = Greedy.__new__(Greedy)
        g.free = list(self.free); g.flow = [dict(f) for f in self.flow]; g.edges = list(self.edges); g.users = [dict(u) for u in self.users]
        return g

    def fill(self, q, right):
        j = len(self.flow); self.flow.append({}); self.edges.append(list(right))
        got = 0
        while got < q:
            push = self._augment(j, q - got)
            if not push:
                break
            got += push
        return got

    def _augment(self, j, limit):
        came = {}; seen = {j}; queue = [j]
        for u in queue:
            for r in self.edges[u]:
                if r in came:
                    continue
                came[r] = u
                if self.free[r] > 0:
                    return self._push(j, r, came, limit)
                for w in self.users[r]:
                    if w not in seen:
                        seen.add(w); queue.append(w)
                        came['L', w] = r
        return 0

    def _push(self, j, r, came, limit):
        path = []; x = min(limit, self.free[r]); end = r
        while True:
            u = came[r]; path.append((u, r))
            if u == j:
                break
            back = came['L', u]; x = min(x, self.flow[u][back]); path.append((u, back)); r = back
        self.free[end] -= x
        for k, (u, r) in enumerate(path):
            v = self.flow[u].get(r, 0) + (x if k % 2 == 0 else -x)
            if v:
                self.flow[u][r] = v; self.users[r][u] = True
            else:
                self.flow[u].pop(r, None); self.users[r].pop(u, None)
        return x


STATE_LIMIT = 4000


def allocate(demands, lots, H):
    """Section 3, steps 1 and 2.  -> covered per demand, value at risk (home minor units, Fraction), draws, exact?"""
    fresh = [k for k, l in enumerate(lots) if l['fresh']]
    exact = True
    end = [l['e'] for l in lots]
    if not fresh or not demands:
        g = Greedy([l['q'] for l in lots])
        covered = [g.fill(z['q'], [k for k, l in enumerate(lots) if l['a'] <= z['d'] and z['h'] <= l['e']]) for z in demands]
        states = [tuple(None for _ in fresh)]
    else:
        covered, states, exact = _openings(demands, lots, fresh)
    best = None
    for st in states:
        e = list(end); start = [l['a'] for l in lots]; usable = [True] * len(lots)
        for k, f in zip(fresh, st):
            if f is None:
                usable[k] = False
            else:
                start[k] = max(start[k], f); e[k] = min(e[k], add(f, lots[k]['life']))
        weight = [l['unit'] if e[k] <= H else F(0) for k, l in enumerate(lots)]
        g = Greedy(covered)
        risk = F(0)
        turn = sorted(range(len(lots)), key=lambda k: (-weight[k], e[k], k))
        for k in turn:
            can = [j for j, z in enumerate(demands) if covered[j] and usable[k] and start[k] <= z['d'] and z['h'] <= e[k]]
            used = g.fill(lots[k]['q'], can)
            risk += weight[k] * (lots[k]['q'] - used)
        assert sum(g.free) == 0, 'value step lost coverage'
        if best is None or risk < best['risk']:
            best = dict(covered=covered, risk=risk, exact=exact, states=len(states), draws={k: dict(f) for k, f in zip(turn, g.flow)}, ends=e)
    return best


def _openings(demands, lots, fresh):
    """All ways to open the unopened lots, day by day; after each day only those that cover most, lexicographically, stay."""
    exact = True
    states = {tuple(None for _ in fresh): Greedy([l['q'] for l in lots])}
    covered = []
    i = 0
    while i < len(demands):
        d = demands[i]['d']; today = []
        while i < len(demands) and demands[i]['d'] == d:
            today.append(demands[i]); i += 1
        best, keep = None, {}
        for st, g in states.items():
            can = [n for n, k in enumerate(fresh) if st[n] is None and lots[k]['a'] <= d
                   and any(z['h'] <= min(lots[k]['e'], add(d, lots[k]['life'])) for z in today)]
            for size in range(len(can) + 1):
                for subset in combinations(can, size):
                    new = tuple(d if n in subset else f for n, f in enumerate(st))
                    h = g.copy(); got = []
                    for z in today:
                        right = []
                        for k, l in enumerate(lots):
                            e = l['e']
                            if l['fresh']:
                                f = new[fresh.index(k)]
                                if f is None:
                                    continue
                                e = min(e, add(f, l['life']))
                            if l['a'] <= z['d'] and z['h'] <= e:
                                right.append(k)
                        got.append(h.fill(z['q'], right))
                    if best is None or got > best:
                        best, keep = got, {}
                    if got == best:
                        keep[new] = h
        if len(keep) > STATE_LIMIT:
            exact = False
            # fewest opened first: a stated heuristic
            names = sorted(keep, key=lambda s: (sum(f is not None for f in s), str(s)))[:STATE_LIMIT]
            keep = {n: keep[n] for n in names}
        states = keep
        covered += best
    return covered, list(states), exact
