"""selftest.py [N]: tests the reference against brute force, HiGHS linear programs, networkx and the project's shared check values."""
import itertools, json, random, sys, os, tempfile
from datetime import date, timedelta
from fractions import Fraction as F
import highspy, networkx as nx
from shop import allocate, add, Shop, amount, duration, half_up
import maker
from lower import Model, optimum, to_plan

D0 = date(2027, 1, 11)
CHECKS = os.path.join(os.path.dirname(os.path.abspath(__file__)), '..', 'checks', '')


def lp(nvar, cost, rows, ub):
    m = Model()
    for c, u in zip(cost, ub): m.var(0, u, c)
    for t, lo, hi in rows: m.row(t, lo, hi)
    return m.solve(10)


def brute(demands, lots, H):
    """sequential linear programs over every choice of opening days"""
    fresh = [k for k, l in enumerate(lots) if l['fresh']]
    days = sorted({z['d'] for z in demands})
    best = None
    for st in itertools.product([None] + days, repeat=len(fresh)):
        e = [l['e'] for l in lots]; start = [l['a'] for l in lots]; ok = [True] * len(lots)
        for k, f in zip(fresh, st):
            if f is None: ok[k] = False
            else: start[k] = max(start[k], f); e[k] = min(e[k], add(f, lots[k]['life']))
        pairs = [(j, k) for j, z in enumerate(demands) for k in range(len(lots)) if ok[k] and start[k] <= z['d'] and z['h'] <= e[k]]
        rows = [([(n, 1) for n, (_, k) in enumerate(pairs) if k == kk], -1e30, lots[kk]['q']) for kk in range(len(lots))]
        cover = []
        for j, z in enumerate(demands):
            cost = [-1.0 if p[0] == j else 0.0 for p in pairs]
            if pairs and any(cost):
                _, o, _, x = lp(len(pairs), cost, rows + [([(n, 1) for n, p in enumerate(pairs) if p[0] == i], c, c) for i, c in enumerate(cover)] + [([(n, 1) for n, p in enumerate(pairs) if p[0] == j], -1e30, z['q'])], [1e30] * len(pairs))
                cover.append(round(-o))
            else: cover.append(0)
        w = [float(l['unit']) if e[k] <= H else 0.0 for k, l in enumerate(lots)]
        risk = sum(w[k] * lots[k]['q'] for k in range(len(lots)))
        if pairs:
            _, o, _, x = lp(len(pairs), [-w[k] for _, k in pairs], rows + [([(n, 1) for n, p in enumerate(pairs) if p[0] == i], c, c) for i, c in enumerate(cover)], [1e30] * len(pairs))
            risk += o
        key = ([-c for c in cover], risk)
        if best is None or key[0] < best[0] or key[0] == best[0] and key[1] < best[1]: best = key
    return [-c for c in best[0]], best[1]


def case(R, opening):
    H = D0 + timedelta(R.randint(5, 14)); lots, demands = [], []
    for k in range(R.randint(1, 3 if opening else 5)):
        order = R.random() < .25
        lots.append(dict(code=f'L{k}', q=R.randint(1, 12), a=D0 + timedelta(R.randint(1, 8) if order else 0), e=date.max if R.random() < .1 else D0 + timedelta(R.randint(-1, 22)),
                         unit=F(R.randint(0, 30), R.randint(1, 7)), fresh=opening and R.random() < .7, life=(0, R.randint(1, 8)), order=order))
    for j in range(R.randint(1, 4 if opening else 7)):
        d = D0 + timedelta(R.randint(0, (H - D0).days)); demands.append(dict(d=d, h=d + timedelta(R.choice([0, 0, 3, R.randint(0, 10)])), q=R.randint(1, 9), entry=str(j), key=(d, j)))
    return sorted(demands, key=lambda z: z['key']), lots, H


def test_allocation(n):
    R = random.Random(5)
    for t in range(n):
        opening = t % 2 == 1
        d, l, H = case(R, opening)
        r = allocate(d, l, H); c, risk = brute(d, l, H)
        assert r['covered'] == c and abs(float(r['risk']) - risk) < 1e-6, (t, d, l, H, r, c, risk)
        if not opening:
            g = nx.DiGraph()
            for j, z in enumerate(d): g.add_edge('s', ('d', j), capacity=z['q'])
            for k, x in enumerate(l):
                g.add_edge(('l', k), 't', capacity=x['q'])
                for j, z in enumerate(d):
                    if x['a'] <= z['d'] and z['h'] <= x['e']: g.add_edge(('d', j), ('l', k))
            assert sum(r['covered']) == (nx.maximum_flow_value(g, 's', 't') if 's' in g and 't' in g else 0)
    print(f'allocation: {n} random cases equal brute force with HiGHS (half with after-opening life) and networkx max-flow in total')


def test_shared():
    n = 0
    for c in json.load(open(CHECKS + 'allocation_cases.json'))['cases']:
        if 'single_lot' in str(c): continue
        ds = sorted((dict(d=D0 + timedelta(z['d']), h=D0 + timedelta(z['h']), q=z['q'], entry='', key=(z['d'], k)) for k, z in enumerate(c['demands'])), key=lambda z: z['key'])
        ls = [dict(code='', q=x['q'], a=D0 + timedelta(x['a']), e=D0 + timedelta(x['e']), unit=F(x.get('c', 0)), fresh='after_opening_days' in c, life=(0, c.get('after_opening_days', 0)), order=False) for x in c['lots']]
        r = allocate(ds, ls, D0 + timedelta(c.get('horizon_end', 30)))
        if 'expected_short' in c: assert sum(z['q'] for z in ds) - sum(r['covered']) == c['expected_short'], c['id']
        if 'expected_wasted_value' in c: assert r['risk'] == c['expected_wasted_value'], c['id']
        n += 1
    for c in json.load(open(CHECKS + 'fefo.json'))['cases']:
        D = date.fromisoformat
        ls = [dict(code=x['lot'], q=x['qty_g'], a=D(x['released_on']), e=D(x['usable_until']), unit=F(0), fresh=False, life=None, order=False) for x in c['lots'] if x['status'] == 'released']
        ds = sorted((dict(d=D(z['day']), h=D(z['day']) + timedelta(z.get('min_remaining_days') or 0), q=z['qty_g'], entry='', key=(z['day'], z['demand'])) for z in c['demands']), key=lambda z: z['key'])
        assert sum(allocate(ds, ls, date.max)['covered']) == c['expected']['max_possible_total_g'], c['id']
        n += 1
    for c in json.load(open(CHECKS + 'dates_shelf_life.json'))['cases']:
        got = add(date.fromisoformat(c['made_on']), (c['pao_months'], 0)).isoformat()
        assert got == c['expected']['made_plus_pao_months'], c; n += 1
    u = {'fl_oz_us': 'fl oz', 'tsp_us': 'tsp', 'tbsp_us': 'tbsp', 'g': 'g', 'kg': 'kg', 'mg': 'mg', 'oz': 'oz', 'lb': 'lb', 'mL': 'ml', 'ml': 'ml', 'L': 'l', 'l': 'l'}
    from shop import MASS, VOLUME_ML
    k = 0
    for c in json.load(open(CHECKS + 'units.json'))['cases']:
        a, b = u.get(c['unit_from']), u.get(c['unit_to'])
        if a and b:
            f = lambda x: MASS[x] if x in MASS else VOLUME_ML[x] * 1000 * F(c['density_g_per_mL'] or 1)
            if (a in MASS) != (b in MASS) and not c['density_g_per_mL']: continue
            assert F(c['qty_fraction']) * f(a) / f(b) == F(c['expected']['exact_fraction']), c; k += 1
    for c in json.load(open(CHECKS + 'formulas.json'))['cases']:
        s = Shop.__new__(Shop); total = 10**12; got = {}
        def go(item, q):
            if item not in c['formulas']: got[item] = got.get(item, 0) + q; return
            for i, x in s.scale([(l['item'], F(l['percent'])) for l in c['formulas'][item]], q): go(i, x)
        go(c['make'], total)
        assert sum(got.values()) == total
        for i, p in c['expected']['percent_by_raw'].items(): assert abs(got[i] - F(p) / 100 * total) < 200, (c['id'], i)
        n += 1
    print(f'shared checks: {n} cases of allocation, FEFO, dates and formulas, {k} of units')


def test_orders(n):
    """section 5's claim: latest days are enough; and MILP objective == exact re-computation"""
    for seed in range(n):
        with tempfile.TemporaryDirectory() as t:
            maker.make(1000 + seed, 'tiny', t)
            s = Shop(t, D0).run(); s.requirements()
            a = optimum(s, 20)
            if a['objective'] is None: print('seed', 1000 + seed, a['status']); continue
            assert not a['missing'], a['missing']
            assert abs(a['milp'] - a['objective']) <= 0.5 * len(a['orders']) + .02, a
            if seed < 6:
                b = optimum(s, 60, all_days=True)
                print(f"tiny {1000 + seed}: {a['status']} {a['milp']:.2f} bound {a['bound']:.2f}; with every order day {b['milp']:.2f} bound {b['bound']:.2f} {b['status']}" + ('  <-- later days are NOT enough' if b['milp'] < a['bound'] - .02 else ''))
    print(f'orders: {n} tiny workshops, MILP equals exact re-computation')


def write(folder, **files):
    for n, text in files.items(): open(os.path.join(folder, n + '.csv'), 'w').write(text)


def test_hand():
    """one workshop worked out by hand"""
    with tempfile.TemporaryDirectory() as t:
        write(t, materials="code,name,kind,density,safety_stock,unopened_life\nA,a,raw,0.91,,\nB,b,raw,,1 kg,\nC,c,raw,,,6 months\nW,w,raw,,,\nT,tin,packaging,,,\n",
            suppliers="code,name,currency,lead_time_days,order_weekdays,closed,minimum_order,postage,free_postage_from,duty\nS,s,GBP,7,Mon Thu,2027-01-25/2027-01-28,,5.00,50.00,10\n",
            rates="date,currency,rate\n2026-12-01,GBP,1.10\n2027-01-10,GBP,1.20\n2027-02-01,GBP,9\n",
            offers="supplier,material,pack,price,from_packs,life_on_arrival\nS,A,1 l,10.00,,\nS,A,1 l,9.00,3,\nS,B,16 oz,4.00,,\nS,C,500 g,7.00,,60 days\nS,T,24 pcs,6.00,,\n",
            lots="lot,material,amount,cost,currency,best_before,received,state\nP1,P,1 kg,12.00,EUR,2027-12-31,,\nB1,B,2 kg,10.00,GBP,2027-02-03,2026-12-15,\nC1,C,100 g,2.00,,,2026-07-20,\nC2,C,5 kg,2.00,,,2026-12-20,quarantine\n",
            orders="order,supplier,material,pack,packs,placed,expected,price\nO1,S,A,1 l,2,2026-12-20,2027-01-05,10.00\n",
            formulas="formula,ingredient,percent,version\nF,A,60,1\nF,B,40,1\nF,A,50,2\nF,P,30,2\nF,B,balance,2\nFP,C,100,\n",
            premixes="code,formula,make_ahead_days,loss\nP,FP,5,10\n",
            products="code,name,formula,net_mass,pieces_per_mould,loss,setting_days,curing_days,minimum_life\nX,x,F,100 g,10,5,1,2,1 month\n",
            packaging="product,material,per_piece,per_batch\nX,T,0.5,1\n",
            plan="entry,product,amount,make_on,ready_by\n1,X,100 pcs,2027-01-31,\n2,X,2 moulds,,2027-02-04\n3,X,1.25 kg,2027-01-31,\n")
        s = Shop(t, D0).run(); s.requirements()
        q = lambda i: [(z['entry'], str(z['d']), str(z['h']), z['q']) for z in s.demands[i]]
        # 1: 10 kg / 0.95 = 10526315.79 -> 10526316; A 5263158, P 3157894.8 -> 3157895 (largest remainder), B 2105263(.2)
        # 3: 1.25 kg / 0.95 = 1315789.47 -> 1315789; A 657894.5, P 394736.7 -> 394737, B 263157.8 -> 263158, A 657894
        # 2: 2 kg / 0.95 = 2105263.2 -> 2105263; A 1052631.5, P 631578.9 -> 631579, B 421052.6 -> 421053, A 1052631; made on 1 Feb
        assert q('A') == [('1', '2027-01-31', '2027-02-28', 5263158), ('3', '2027-01-31', '2027-02-28', 657894), ('2', '2027-02-01', '2027-03-01', 1052631)], q('A')
        assert [x[3] for x in q('B')] == [2105263, 263158, 421053]
        assert [x[3] for x in q('P')] == [3157895, 394737, 631579]
        # premix: 1 kg of stock to entry 1; rests 2157895, 394737, 631579, each / 0.9
        assert q('C') == [('1', '2027-01-26', '2027-02-28', 2397661), ('3', '2027-01-26', '2027-02-28', 438597), ('2', '2027-01-27', '2027-03-01', 701754)], q('C')
        assert [(x[0], x[1], x[2], x[3]) for x in q('T')] == [('1', '2027-01-31', '2027-01-31', 51), ('3', '2027-01-31', '2027-01-31', 7), ('2', '2027-02-01', '2027-02-01', 11)]
        # C1 lasts through 2027-01-20 and B1 through 3 Feb (H is 1 Feb): nothing of B1 lasts through h. At risk: C1 2.00
        assert [z for z in s.results['B'][1]['covered']] == [0, 0, 0] and s.risk == 200, s.risk
        # A: the order (1.82 kg, arrives 12 Jan) serves entry 1
        assert s.results['A'][1]['covered'] == [1820000, 0, 0]
        # needed 31 Jan -> 24 Jan is a Sunday -> Thu 21; 26 Jan -> 19 Tue -> Mon 18; 1 Feb -> Mon 25 is closed -> Thu 21
        assert [str(s.order_by(i, date(*d))) for i, d in (('A', (2027, 1, 31)), ('C', (2027, 1, 26)), ('A', (2027, 2, 1)))] == ['2027-01-21', '2027-01-18', '2027-01-21']
        assert s.order_by('W', D0) is None
        assert not s.late and not s.left_out and min(x['balance'] for x in s.balance('B').values()) == 2000000
        # two orders at 1.20: A 3 packs at 9.00 brings the price of break 3
        o = s.offers['S', 'A', 910000]; assert (s.price(o, 2), s.price(o, 3)) == (1000, 900)
        assert s.lowest_landed('A') == F(1000) * F('1.2') * F('1.1') / 910000 and s.rate('GBP', D0) == F('1.2')
    print('one workshop worked out by hand: equal')


def test_balance(n):
    """what the allocation covers can be drawn by FEFO too (no after-opening life)"""
    for seed in range(n):
        with tempfile.TemporaryDirectory() as t:
            maker.make(2000 + seed, 'small', t, odd=seed % 2 == 1); s = Shop(t, D0).run()
            for i, (ds, r) in s.results.items():
                if i in s.materials and not any(l['fresh'] for l in s.lots[i]):
                    assert sum(x['drawn'] for x in s.balance(i).values()) == sum(r['covered']), (seed, i)
    print(f'balance: {n} small workshops, FEFO draws all that is covered')


if __name__ == '__main__':
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 600
    test_shared(); test_hand(); test_balance(10); test_allocation(n); test_orders(12)
