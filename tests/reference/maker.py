"""maker.py SEED SIZE OUT_DIR [--plain] [--odd]: a random workshop as CSV files.  Sizes: tiny, small, middle, large.

--plain: comma CSV in contract order only.  --odd: also what the documents leave unclear (one ingredient twice in a
formula, closed periods with durations, orders without price or without an offer of that pack)."""
import argparse, csv, io, os, random
from datetime import date, timedelta

SIZES = dict(  # materials, premixes, products, suppliers, entries, days, hard (after-opening) materials
    tiny=(14, 2, 4, 3, 8, 21, 1), small=(40, 4, 10, 6, 42, 42, 1), middle=(150, 8, 25, 10, 150, 90, 2), large=(400, 15, 60, 14, 1200, 364, 3))
D0 = date(2027, 1, 11)
WORDS = ['almond', 'argan', 'olive', 'castor', 'hemp', 'shea', 'cocoa', 'mango', 'beeswax', 'rice bran', 'jojoba', 'kaolin', 'oat', 'calendula',
         'lavender', 'café', 'salt', 'soda', 'lemon', 'rosehip']


def make(seed, size, out, plain=False, odd=False):
    R = random.Random(f'stillroom-reference:{size}:{seed}')
    n_mat, n_pre, n_prod, n_sup, n_ent, days, hard = SIZES[size]
    T = {}
    iso = lambda d: d.isoformat()
    back = lambda lo, hi: D0 + timedelta(R.randint(lo, hi))

    n_pack = max(3, n_mat // 5); n_raw = n_mat - n_pack
    raw = [f'R{i:03}' for i in range(1, n_raw + 1)]; packs = [f'K{i:03}' for i in range(1, n_pack + 1)]
    density = {}; perishable = {}
    rows = []
    opened_life = {}
    hardset = set(R.sample(raw[1:], hard))
    for i, c in enumerate(raw):
        w = R.choice(WORDS)
        if R.random() < 0.6 or i == 0:
            density[c] = R.choice(['0.91', '0.885', '1.02', '0.9145', '1.26', '1'])
        perishable[c] = R.random() < 0.75 or c in hardset
        life = R.choice(['6 months', '540 days', '2 years', 'P18M', '12 months', '1 year', '20 weeks' if odd else '140 days']) if perishable[c] and R.random() < 0.85 else ''
        if c in hardset:
            opened_life[c] = R.choice(['30 days', '6 weeks' if odd else '42 days', '2 months', '20 days', 'P1M'])
        rows.append(dict(code=c, name=f'{w} no. {i + 1}' if R.random() < .9 else f'{w}, "fine" {i + 1}', inci=w.title() if R.random() < .5 else '', kind=R.choice(['', 'raw']), density=density.get(c, ''), piece_mass='',
            unopened_life=life, opened_life=opened_life.get(c, ''), safety_stock='', max_leave_on=R.choice(['', '', '5', '100']), max_rinse_off='', storage=R.choice(['', 'cool']),
            caution='', always_at_hand='yes' if i == 0 else ''))
    for i, c in enumerate(packs):
        rows.append(dict(code=c, name=f'box {i + 1}', inci='', kind='packaging', density='', piece_mass=R.choice(['', '12 g', '3.5 g', '85 g']), unopened_life='', opened_life='',
            safety_stock='', max_leave_on='', max_rinse_off='', storage='', caution='', always_at_hand=''))
    T['materials'] = rows
    by_code = {r['code']: r for r in rows}

    # rates
    curs = ['EUR', 'GBP', 'USD', 'CHF'] + (['JPY'] if size != 'tiny' else [])
    base = dict(GBP=1.17, USD=0.92, CHF=1.05, JPY=0.0061)
    T['rates'] = [dict(date=iso(D0 + timedelta(off)), currency=c, rate=f'{b * R.uniform(.97, 1.03):.6g}') for c, b in base.items() for off in (-400, -120, -30, R.choice([-3, 0]), 20)]

    # formulas
    frows = []
    def formula(name, ingredients, versions):
        for v in range(1, versions + 1):
            n = len(ingredients); order = ingredients[:]; R.shuffle(order)
            cuts = sorted(R.sample(range(1, 1000), n - 1)) if n > 1 else []
            parts = [b - a for a, b in zip([0] + cuts, cuts + [1000])]
            R.shuffle(parts)
            fine = R.random() < .3
            pct = [p * 10 for p in parts]       # in hundredths of a percent... thousandths below
            if fine and n > 1:
                k = R.randint(1, 9) if pct[0] > 10 else 0
                pct[0] -= k; pct[1] += k
            balance = R.randrange(n) if R.random() < .5 else None
            for k, (i, p) in enumerate(zip(order, pct)):
                frows.append(dict(formula=name, ingredient=i, percent='balance' if k == balance else f'{p / 100:.2f}'.rstrip('0').rstrip('.'),
                                  version='' if versions == 1 and name[-1] in '13579' else str(v), phase=R.choice(['A', 'B', 'heated', ''])))
            if odd and n > 2 and R.random() < .2:   # the same ingredient in two phases
                last = [r for r in frows if r['formula'] == name and r['version'] in ('', str(v))][:]
                one = next((r for r in last if r['percent'] != 'balance' and float(r['percent']) > 1 and r['ingredient'] in raw), None)
                if one:
                    one['percent'] = f"{float(one['percent']) - 1:.2f}"; one['phase'] = 'A'
                    frows.append(dict(one, percent='1', phase='cool-down'))
    premixes = [f'PX{i}' for i in range(1, n_pre + 1)]
    T['premixes'] = []
    uses = {}
    for i, p in enumerate(premixes):
        ing = R.sample(raw[1:], R.randint(1, 3)) + (R.sample(premixes[:i], 1) if i and R.random() < .6 else []) + ([raw[0]] if R.random() < .3 else [])
        uses[p] = ing
        formula('F-' + p, ing, R.choice([1, 1, 2]))
        T['premixes'].append(dict(code=p, formula='F-' + p, make_ahead_days=R.choice(['', '0', '1', '3', '14', '28']), loss=R.choice(['', '0', '2', '3.5', '12.5']), life=R.choice(['', '6 months', '200 days'])))
    T['products'] = []; T['packaging'] = []
    products = []
    for i in range(1, n_prod + 1):
        c = f'PR{i:02}'
        ing = R.sample(raw[1:], min(len(raw) - 1, R.randint(3, 7))) + R.sample(premixes, R.choice([0, 1, 1, min(2, n_pre)])) + ([raw[0]] if R.random() < .4 else [])
        versions = R.choice([1, 1, 2, 3])
        formula('F-' + c, ing, versions)
        uses[c] = ing
        net = R.choice([(25, '25 g'), (95, '95 g'), (100, '0.1 kg'), (60, '60 g'), (30, '30.5 g'), (113, '4 oz')])
        pr = dict(code=c, name=f'product {i}', formula='F-' + c, version=str(R.randint(1, versions)) if versions > 1 and R.random() < .3 else '', use=R.choice(['leave-on', 'rinse-off']),
            net_mass=net[1], pieces_per_mould=str(R.choice([6, 9, 12, 24])), loss=R.choice(['', '1', '2.5', '4', '7.25']), setting_days=R.choice(['', '1', '2']), curing_days=R.choice(['', '', '7', '28']),
            shelf_life=R.choice(['', '12 months', '2 years']), minimum_life=R.choice(['', '', '', '1 month', '45 days', '3 months', 'P2M']))
        T['products'].append(pr); products.append((c, net[0], int(pr['pieces_per_mould']), pr))
        for k in R.sample(packs, R.choice([1, 2, min(3, n_pack)])):
            if R.random() < .8:
                T['packaging'].append(dict(product=c, material=k, per_piece=R.choice(['1', '1', '0.5', '2', '0.125', '1.5']), per_batch=R.choice(['', '', '1', '2'])))
            else:
                T['packaging'].append(dict(product=c, material=k, per_piece='', per_batch=R.choice(['1', '3'])))
    T['formulas'] = frows

    # plan (and a rough use of each material, to size stock and packs)
    use = {c: 0.0 for c in raw + packs + premixes}
    T['plan'] = []
    def rough(item, grams):
        use[item] += grams
        if item in uses and item in premixes:
            for j in uses[item]:
                rough(j, grams / len(uses[item]))
    for e in range(1, n_ent + 1):
        c, net, per, pr = R.choice(products)
        off = R.randint(0, days) if R.random() > .04 else R.randint(-6, -1)
        kind = R.random()
        if kind < .5:
            pieces = R.randint(2, 60); amt = f'{pieces} pcs'
        elif kind < .8:
            m = R.randint(1, 4); pieces = m * per; amt = f'{m} moulds' if m > 1 else R.choice(['1 mould' if odd else '1 moulds'])
        else:
            g = R.randint(200, 6000); pieces = g // net; amt = R.choice([f'{g / 1000:g} kg', f'{g} g'])
        row = dict(entry=f'E{e:04}', product=c, amount=amt, make_on='', ready_by='')
        wait = int(pr['setting_days'] or 0) + int(pr['curing_days'] or 0)
        if R.random() < .75:
            row['make_on'] = iso(D0 + timedelta(off))
        else:
            row['ready_by'] = iso(D0 + timedelta(off + wait))
        T['plan'].append(row)
        for j in uses[c]:
            rough(j, pieces * net / len(uses[c]))
        for p in T['packaging']:
            if p['product'] == c:
                use[p['material']] += float(p['per_piece'] or 0) * pieces + int(p['per_batch'] or 0)

    # suppliers, postage, offers
    T['suppliers'] = []; T['postage'] = []; T['offers'] = []
    price = {c: R.uniform(.006, .08) for c in raw}; price.update({c: R.uniform(.05, .9) for c in packs})
    offers = {}
    sups = [f'S{i:02}' for i in range(1, n_sup + 1)]
    scur = {}
    for i, s in enumerate(sups):
        cur = scur[s] = 'EUR' if i == 0 else R.choice(curs)
        f = 1 / base.get(cur, 1); r0 = (lambda x, f=f, cur=cur: str(round(x * f)) if cur == 'JPY' else f'{x * f:.2f}')
        closed = []
        for _ in range(R.choice([0, 0, 1, 2])):
            a = back(-5, max(days, 20)); n = R.randint(1, 15)
            closed.append(f'{iso(a)}/P{n}D' if odd and R.random() < .5 else f'{iso(a)}/{iso(a + timedelta(n))}')
        style = R.choice(['flat', 'flat', 'value', 'weight', 'none'])
        T['suppliers'].append(dict(code=s, name=f'Supplier {i + 1}', email=f'orders@s{i + 1}.example', currency=cur, lead_time_days=str(R.choice([2, 3, 5, 7, 10, 14])),
            order_weekdays=R.choice(['', 'Mon Thu', 'Tue', 'Mon Wed Fri', 'Mon Tue Wed Thu Fri']), closed=';'.join(closed), minimum_order=R.choice(['', '', r0(25), r0(60)]),
            postage=r0(R.choice([4.9, 7.5, 12])) if style == 'flat' else '', free_postage_from=R.choice(['', r0(80), r0(150)]), duty=R.choice(['', '', '0', '2.5', '6.5']) if cur != 'EUR' else ''))
        if style in ('value', 'weight'):
            fee = R.uniform(3, 6)
            steps = [0, 40, 90, 160] if style == 'value' else [0, 1, 5, 10]
            for k in range(R.randint(2, 4)):
                T['postage'].append(dict(supplier=s, by=style, **{'from': r0(steps[k]) if style == 'value' else R.choice([f'{steps[k]} kg', f'{steps[k] * 1000} g']), 'fee': r0(fee)}))
                fee += R.uniform(1, 5) if style == 'weight' else R.uniform(-1, 3)
                fee = max(fee, .5)
        n_off = max(3, int(n_mat * R.uniform(.3, .6)))
        for c in R.sample(raw[1:] + packs, min(n_off, n_mat - 1)):
            sizes = R.sample([50, 100, 250, 500, 1000, 5000], R.choice([1, 1, 2])) if c in raw else R.sample([10, 24, 50, 100, 500], R.choice([1, 1, 2]))
            life = '' if not perishable.get(c) else R.choice(['6 months', '90 days', '12 months', 'P18M', '180 days', '60 days' if R.random() < .3 else '150 days', ''])
            for z in sizes:
                g = z; label = f'{z} g' if c in raw else f'{z} pcs'
                if c in raw:
                    pick = R.random()
                    if pick < .15 and c in density:
                        label = R.choice([f'{z} ml', f'{z / 1000:g} l']); g = z * float(density[c])
                    elif pick < .22 and c in density and z <= 1000:
                        label = f'{max(1, z // 30)} fl oz'; g = max(1, z // 30) * 29.57 * float(density[c])
                    elif pick < .3:
                        label = f'{max(1, z // 28)} oz'; g = max(1, z // 28) * 28.35
                    elif pick < .36 and z >= 500:
                        label = f'{z // 450} lb'; g = z // 450 * 453.6
                    elif pick < .6 and z >= 1000:
                        label = f'{z / 1000:g} kg'
                p0 = price[c] * g * R.uniform(.75, 1.3) * (1.25 if z < 300 else 1)
                p0 = max(p0, .2)
                item = f'{s}-{c}-{z}'
                start = 1 if R.random() < .93 else 2
                brs = [start] + R.choice([[], [], [5], [3, 10]])
                prev = p0
                offers.setdefault((s, c), []).append((label, g, life, r0(p0)))
                for b in brs:
                    T['offers'].append(dict(supplier=s, material=c, pack=label, price=r0(prev), from_packs='' if b == 1 and R.random() < .7 else str(b), life_on_arrival=life, item_no=item))
                    prev *= R.uniform(.8, .97)
    seen = {o['material'] for o in T['offers']}

    # safety stock
    for c in raw[1:] + packs:
        if R.random() < .2:
            x = max(use[c] / max(days, 1) * R.randint(3, 20), 20)
            by_code[c]['safety_stock'] = f'{int(x)} g' if c in raw else f'{int(x)} pcs'

    # lots
    T['lots'] = []; nlot = 0
    def lot(c, grams, **k):
        nonlocal nlot
        nlot += 1
        pcs = c in packs
        if pcs:
            a = f'{max(1, int(grams))} pcs'
        elif c in density and R.random() < .15:
            a = f'{grams:.1f} ml'
        else:
            a = f'{grams:.3f} g' if R.random() < .5 else f'{max(1, round(grams))} g'
        rec = back(-300, -2)
        per = perishable.get(c, c in premixes)
        bb = ''
        if per and R.random() < .75:
            bb = iso(back(-40, -1) if R.random() < .06 else back(0, int(days * 1.5) + 40) if R.random() < .7 else back(200, 700))
        free = R.random() < .05
        cur = R.choice(['EUR', 'EUR', 'EUR', 'GBP', 'USD', ''])
        cost = '0' if free else f"{max(.01, price.get(c, .03) * grams * R.uniform(.6, 1.5)):.2f}"
        if R.random() < .03:
            cost = ''
        opened = ''
        if not pcs and R.random() < .25:
            opened = iso(min(D0 - timedelta(1), rec + timedelta(R.randint(0, 60))))
        row = dict(lot=f'L{nlot:04}', material=c, amount=a, supplier=R.choice(sups) if c not in premixes else '', supplier_lot=f'B{R.randint(1000, 9999)}', received=iso(rec), cost=cost, currency=cur, best_before=bb,
                   opened=opened, state='', place=R.choice(['', 'shelf 2']))
        x = R.random()
        row['state'] = 'quarantine' if x < .05 else 'rejected' if x < .07 else R.choice(['', 'released'])
        row.update(k)
        T['lots'].append(row)
    for c in raw[1:] + packs:
        cover = R.choice([0, R.uniform(.2, .9), R.uniform(.7, 1.5), R.uniform(1, 2), R.uniform(1, 2.5)])
        total = max(use[c], 30) * cover
        n = R.choice([1, 2, 2, 3]) if size in ('tiny', 'small') else R.choice([1, 2, 3, 4, 5])
        if c in opened_life:
            n = min(n, 3)
        if cover:
            cuts = [R.uniform(.3, 1) for _ in range(n)]
            for x in cuts:
                lot(c, max(1, total * x / sum(cuts)))
    for p in premixes:
        if R.random() < .6:
            for _ in range(R.choice([1, 2])):
                lot(p, max(5, use[p] * R.uniform(.05, .5)))

    # open orders
    T['orders'] = []
    pool = sorted(offers)
    for k in range(max(2, n_mat // 8)):
        s, c = R.choice(pool)
        if c in opened_life and any(o['material'] == c for o in T['orders']):
            continue
        label, g, life, pr = R.choice(offers[s, c])
        off = R.randint(1, max(days, 10)) if R.random() > .25 else R.randint(-8, 0)
        T['orders'].append(dict(order=f'O{k + 1:03}', supplier=s, material=c, pack=label, packs=str(R.randint(1, 3)), placed=iso(back(-30, -9)), expected=iso(D0 + timedelta(off)),
                                price=pr if not odd or R.random() < .8 else ''))

    write(T, out, R, plain)


NUMERIC = {'density', 'percent', 'loss', 'duty', 'minimum_order', 'postage', 'free_postage_from', 'fee', 'price', 'rate', 'cost', 'per_piece'}
AMOUNTS = {'pack', 'amount', 'net_mass', 'safety_stock', 'piece_mass'}


def write(T, out, R, plain):
    os.makedirs(out, exist_ok=True)
    for name, rows in T.items():
        if not rows:
            continue
        cols = list(rows[0]); delim = ','; decimal = False; bom = False
        if not plain:
            delim = R.choice([',', ',', ';', '\t']); decimal = delim != ',' and R.random() < .6; bom = R.random() < .2
            if R.random() < .4:
                R.shuffle(cols)
            cols = [c for c in cols if any(r[c] for r in rows)] if R.random() < .5 else cols
        f = io.StringIO()
        w = csv.writer(f, delimiter=delim, lineterminator=R.choice(['\n', '\r\n']))
        w.writerow(cols)
        for r in rows:
            w.writerow([r[c].replace('.', ',') if decimal and (c in NUMERIC or c in AMOUNTS or c == 'from') else r[c] for c in cols])
        open(os.path.join(out, name + '.csv'), 'w', encoding='utf-8-sig' if bom else 'utf-8', newline='').write(f.getvalue())
    open(os.path.join(out, 'as_of.txt'), 'w').write(D0.isoformat() + '\n')


if __name__ == '__main__':
    p = argparse.ArgumentParser()
    p.add_argument('seed'); p.add_argument('size', choices=SIZES); p.add_argument('out')
    p.add_argument('--plain', action='store_true'); p.add_argument('--odd', action='store_true')
    a = p.parse_args()
    make(a.seed, a.size, a.out, a.plain, a.odd)
