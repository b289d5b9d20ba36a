"""compare.py BINARY N SIZE [--first SEED] [--seconds 30] [--odd] [--plain] [--keep DIR] [--no-reorder] [--through-too]:
makes N workshops, runs the binary on each in a fresh store, and prints every difference from the reference.

Exit status 1 if there is any difference.  The last lines sum up."""
import argparse, json, os, shutil, subprocess, sys, tempfile, time
from collections import defaultdict
from datetime import date, timedelta
from fractions import Fraction as F
import maker
from shop import Shop, add, half_up, OPTIONS
from evaluate import check_plan, minor
from lower import optimum

D0 = maker.D0
HINTS = [dict(past='drop'), dict(late='any'), dict(expire_day='same'), dict(fefo_opening='no'), dict(horizon='start'), dict(lot_rate='received'), dict(order_life='none')]
SHOW = 6


def run(binary, args, store, seconds=600, as_of=True):
    start = time.time()
    env = {k: v for k, v in os.environ.items() if not k.startswith('STILLROOM')}
    env.update(NO_COLOR='1', HOME=os.path.dirname(store), XDG_CONFIG_HOME=os.path.dirname(store), XDG_DATA_HOME=os.path.dirname(store))
    p = subprocess.run([binary] + args + ['--store', store] + (['--as-of', D0.isoformat()] if as_of else []), capture_output=True, text=True, timeout=seconds, env=env, cwd=os.path.dirname(store))
    return p, time.time() - start


class Report:
    balances = False

    def __init__(self, name):
        self.name, self.n, self.count = name, 0, defaultdict(int)

    def say(self, kind, text):
        self.n += 1; self.count[kind] += 1
        if self.count[kind] <= SHOW:
            print(f'  DIFF {self.name} [{kind}] {text}')
        elif self.count[kind] == SHOW + 1:
            print(f'  DIFF {self.name} [{kind}] ... more')

    def maps(self, kind, mine, theirs, hint=''):
        keys = sorted(k for k in set(mine) | set(theirs) if mine.get(k) != theirs.get(k))
        for k in keys:
            self.say(kind, f"{k}: reference {mine.get(k)}, program {theirs.get(k)} {hint}")
        return not keys


def shortage_map(s):
    out = defaultdict(int)
    for z in s.short: out[z['item'], z['d'].isoformat()] += z['q']
    return dict(out)


def hints(folder, through, same):
    good = []
    for h in HINTS:
        try:
            s = Shop(folder, D0, **h).run(through); s.requirements()
            if same(s): good.append(str(h))
        except Exception:
            pass
    return ('(equal with ' + ', '.join(good) + ')') if good else '(no switch of the reference explains it)'


def reference(folder, through):
    s = Shop(folder, D0).run(through); s.requirements(); return s


def compare_forecast(R, folder, J, through):
    s = reference(folder, date.fromisoformat(J['through']))
    auto = reference(folder, None).H
    if through is None and J['through'] != auto.isoformat(): R.say('through', f"forecast through {J['through']}, reference {auto}")
    if J['as_of'] != D0.isoformat(): R.say('as_of', J['as_of'])
    theirs, by, ent = defaultdict(int), {}, defaultdict(set)
    for x in J['shortages']:
        k = (x['material'], x['date']); theirs[k] += x['short']; by[k] = x.get('order_by'); ent[k] |= set(x['entries'])
        if x['unit'] != s.materials.get(x['material'], {}).get('unit'): R.say('unit', f"shortage {k}: {x['unit']}")
    theirs = dict(theirs); mine = shortage_map(s)
    hard = set(s.inexact)
    if mine != theirs:
        R.maps('shortage', {k: v for k, v in mine.items() if k[0] not in hard}, {k: v for k, v in theirs.items() if k[0] not in hard},
               hints(folder, s.H, lambda t: shortage_map(t) == theirs))
    iso = lambda d: d.isoformat() if d else None
    R.maps('order_by', {k: iso(s.order_by(k[0], date.fromisoformat(k[1]))) for k in mine if k in theirs}, {k: by[k] for k in mine if k in theirs})
    es = defaultdict(set)
    for z in s.short: es[z['item'], z['d'].isoformat()].add(z['entry'])
    for k in mine:
        if k in theirs and es[k] != ent[k] and mine[k] == theirs[k]: R.say('entries', f'{k}: reference {sorted(es[k])}, program {sorted(ent[k])}')
    info = defaultdict(int)
    listed = {m['material'] for m in J['materials']}
    for i, ds in s.demands.items():
        if i in s.materials and ds and not s.materials[i]['always'] and i not in listed: R.say('forecast list', f'{i} has demands and is not listed')
    for m in J['materials']:
        i = m['material']
        if i not in s.materials: continue
        if not s.materials[i]['always'] and m['safety_stock'] not in (s.materials[i]['safety'], None if not s.materials[i]['safety'] else -1): R.say('safety_stock', f"{i}: {m['safety_stock']}, reference {s.materials[i]['safety']}")
        b = s.balance(i); dm = defaultdict(int)
        for z in s.demands.get(i, []): dm[z['d'].isoformat()] += z['q']
        days = {d['date']: d for d in m['days']}
        R.maps('demand', {(i, d): q for d, q in dm.items()}, {(i, d): x['demand'] for d, x in days.items() if x['demand']}, hints(folder, s.H, lambda t: False) if False else '')
        if s.materials[i]['always']: continue
        for d, x in days.items():
            y = b.get(date.fromisoformat(d))
            if y is None: R.say('days', f'{i}: {d} outside D0..H'); continue
            if x['receipts'] != y['receipts']: R.say('receipts', f"{i} {d}: reference {y['receipts']}, program {x['receipts']}")
            if x['balance'] != y['balance']: info['balance'] += 1; info['first'] = info['first'] or f"{i} {d}: reference {y['balance']}, program {x['balance']} (expired {y['expired']} / {x['expired']})"
    # The program's balance is drawn as its allocation draws, this one first expired first out (docs/model.md, 6): told, no fault.
    if info['balance'] and R.balances: R.say('balance', f"{info['balance']} daily balances differ, first {info['first']} {'[hard material]' if info['first'].split()[0] in hard else ''}")
    return s


def compare_expiring(R, folder, J):
    s = reference(folder, date.fromisoformat(J['through']))
    got = minor(J['at_risk_value'], s.home)
    lots = J['lots']; tolerance = 1 + sum(1 for l in lots if l['at_risk']) / 2
    variants = {}
    for rate in ('received', 'newest'):
        t = Shop(folder, D0, lot_rate=rate).run(s.H)
        variants[f'lot_rate={rate} expired=count'] = t.risk_usable + t.risk_expired; variants[f'lot_rate={rate} expired=skip'] = t.risk_usable
    exact = [k for k, v in variants.items() if abs(v - got) <= F(1, 2)]; near = [k for k, v in variants.items() if abs(v - got) <= tolerance]
    if not near:
        R.say('at_risk_value', f"program {float(got)}, reference " + ', '.join(f'{k} {float(v):.2f}' for k, v in variants.items()) + f' (not exact in {s.inexact})')
        mine = s.risk_by_item; theirs = defaultdict(F)
        for l in lots: theirs[l['material']] += minor(l['at_risk_value'], s.home)
        for i in sorted(set(mine) | set(theirs)):
            gone = sum(l['q'] * l['unit'] for l in s.lots[i] if l['e'] < D0)
            if min(abs(mine.get(i, 0) - theirs[i]), abs(mine.get(i, 0) - gone - theirs[i])) > 3: R.say('at_risk of item', f'{i}: reference {float(mine.get(i, 0)):.2f} (of it expired before D0 {float(gone):.2f}), program {float(theirs[i]):.2f}')
    else:
        print(f"  at_risk_value {float(got):.0f}: {'equal' if exact else 'within rounding of lots'} under {exact or near}")
    if abs(sum(minor(l['at_risk_value'], s.home) for l in lots) - got) > tolerance: R.say('at_risk sum', 'lots do not add up to the total')
    for l in lots:
        x = s.all_lots.get(l['lot'])
        if not x: R.say('expiring lot', f"{l['lot']} unknown"); continue
        if l['on_hand'] != x['q'] : R.say('on_hand', f"{l['lot']}: {l['on_hand']}, reference {x['q']}")
        if not 0 <= l['planned_use'] <= l['on_hand'] or l['at_risk'] > l['on_hand'] - l['planned_use']: R.say('planned_use', str(l))
        if not x['fresh'] and l['usable_through'] != x['e'].isoformat(): R.say('usable_through', f"{l['lot']}: program {l['usable_through']}, reference {x['e']}")


def compare_allocate(R, folder, J):
    s = reference(folder, None)
    demand = defaultdict(int); h_of = {}; cov = defaultdict(int)
    for i, (ds, r) in s.results.items():
        for z, c in zip(ds, r['covered']):
            k = (z['entry'], i, z['d'].isoformat()); demand[k] += z['q']; h_of[k] = max(h_of.get(k, date.min), z['h']); cov[k] += c
    used, drawn, first = defaultdict(int), defaultdict(int), {}
    for w in J['draws']:
        k = (w['entry'], w['material'], w['date']); x = s.all_lots.get(w['lot'])
        if w['amount'] <= 0: R.say('draw', f'amount not above 0: {w}')
        if x is None:   # an open order under a longer name
            x = next((l for l in s.lots[w['material']] if l['order'] and l['code'] in w['lot']), None)
        if x is None: R.say('draw lot', f'unknown lot {w}'); continue
        d = date.fromisoformat(w['date'])
        used[x['code']] += w['amount']; drawn[k] += w['amount']; first[x['code']] = min(first.get(x['code'], d), d)
        if x['item'] != w['material']: R.say('draw lot', f'{w} is of {x["item"]}')
        if x['state'] != 'released': R.say('draw state', f"{w}: {x['state']}")
        if k not in demand: R.say('draw demand', f'no such demand: {w}'); continue
    for w in J['draws']:
        k = (w['entry'], w['material'], w['date']); x = s.all_lots.get(w['lot']) or next((l for l in s.lots[w['material']] if l['order'] and l['code'] in w['lot']), None)
        if not x or k not in h_of: continue
        d = date.fromisoformat(w['date']); e = x['e']
        if x['fresh']: e = min(e, add(first[x['code']], x['life']))
        if d < x['a'] or h_of[k] > e: R.say('draw life', f"{w}: lot usable {x['a']} to {e}, needed through {h_of[k]}")
    for c, q in used.items():
        if q > s.all_lots[c]['q']: R.say('overdrawn', f"{c}: {q} of {s.all_lots[c]['q']}")
    short = defaultdict(int)
    for w in J['short']: short[w['entry'], w['material'], w['date']] += w['short']
    for k, q in demand.items():
        always = k[1] in s.materials and s.materials[k[1]]['always']; pre = k[1] in s.premixes
        if pre:
            if drawn[k] != cov[k] : R.say('premix draws', f'{k}: program {drawn[k]}, reference {cov[k]} of {q}')
            if short.get(k) and short[k] + drawn[k] != q: R.say('premix short', f'{k}: {short[k]}')
        elif always:
            if short.get(k): R.say('always short', str(k))
        elif drawn[k] + short.get(k, 0) != q and k[1] not in s.inexact: R.say('draws+short', f'{k}: draws {drawn[k]} + short {short.get(k, 0)}, demand {q}, reference covers {cov[k]}')
        elif drawn[k] != cov[k] and k[1] not in s.inexact: R.say('covered', f'{k}: program {drawn[k]}, reference {cov[k]} of {q}')
    for k in short:
        if k not in demand: R.say('short demand', f'no such demand {k}: {short[k]}')


def compare_reorder(R, folder, J, through, seconds, milp, stats, elapsed):
    s = reference(folder, date.fromisoformat(J['through']))
    if not through and s.H != reference(folder, None).H: R.say('through', f"reorder through {J['through']}")
    bad, f = check_plan(s, J)
    if any(b.startswith('not covered') or 'serve no requirement' in b for b in bad):
        good = []
        for h in HINTS:
            t = Shop(folder, D0, **h).run(s.H); t.requirements()
            if not any(b.startswith('not covered') or 'serve no' in b for b in check_plan(t, J)[0]): good.append(str(h))
        print('  switches under which the plan covers all:', good or 'none')
    for b in bad: R.say('reorder: ' + b.split(':')[0].split(' ')[0], b)
    mine, theirs = defaultdict(int), defaultdict(int); soon, soon2 = {}, {}
    for x in s.late: mine[x['item'], x['d'].isoformat()] += x['q']; soon[x['item'], x['d'].isoformat()] = x['soonest'].isoformat()
    out = {(x['item'], x['d'].isoformat()) for x in s.left_out}
    for x in J['late']:
        k = (x['material'], x['needed'])
        if k in out and k not in mine or x.get('soonest') is None: continue
        theirs[k] += x['short']; soon2[k] = x['soonest']
    if not R.maps('late', dict(mine), dict(theirs)):
        print('   ', hints(folder, s.H, lambda t: {(x['item'], x['d'].isoformat()) for x in t.late} == set(theirs)))
    R.maps('soonest', {k: v for k, v in soon.items() if k in soon2}, {k: v for k, v in soon2.items() if k in soon})
    line = f"  reorder: {len(J['orders'])} orders, cost {f['cost'] / 100:.2f}, objective {f['objective'] / 100:.2f}, own bound {f['lower_bound'] / 100:.2f} (gap {f['gap']:.4%}), {elapsed:.1f} s"
    if milp:
        o = optimum(s, seconds)
        if o['bound'] is not None and s.reqs:
            line += f" | HiGHS {o['status']}: best {(o['objective'] or 0) / 100:.2f}, bound {o['bound'] / 100:.2f}"
            slack = 0.5 * max(len(o['orders']), len(J['orders'])) + 1
            if not bad and f['objective'] < o['bound'] - slack: R.say('bound', f"the plan's objective {f['objective']:.1f} is below the proven bound {o['bound']:.1f}: one model is wrong")
            if o['objective'] is not None and f['lower_bound'] > o['objective'] + slack: R.say('lower_bound', f"reported bound {f['lower_bound']} above a feasible plan {o['objective']:.1f}")
            best = max(o['bound'], f['lower_bound'])
            if f['objective'] > 0:
                true_gap = (f['objective'] - best) / f['objective']; stats['gaps'].append(max(0.0, true_gap)); line += f' | at most {max(0, true_gap):.3%} above the optimum'
                if o['objective'] is not None and f['objective'] > o['objective'] + slack: line += f"; HiGHS is {(f['objective'] - o['objective']) / 100:.2f} better"
    stats['own'].append(f['gap']); stats['seconds'].append(elapsed)
    print(line)


def main():
    p = argparse.ArgumentParser()
    p.add_argument('binary'); p.add_argument('n', type=int); p.add_argument('size', choices=maker.SIZES); p.add_argument('--first', type=int, default=1); p.add_argument('--seconds', type=float, default=30)
    for f in ('odd', 'plain', 'no-reorder', 'no-milp', 'through-too', 'balances'): p.add_argument('--' + f, action='store_true')
    p.add_argument('--keep')
    a = p.parse_args()
    stats = dict(gaps=[], own=[], seconds=[]); total = 0; clean = 0; counts = defaultdict(int); times = defaultdict(list)
    for seed in range(a.first, a.first + a.n):
        work = os.path.abspath(a.keep and os.path.join(a.keep, f'{a.size}-{seed}') or tempfile.mkdtemp()); folder = os.path.join(work, 'files'); store = os.path.join(work, 'workshop.db')
        shutil.rmtree(work, ignore_errors=True); os.makedirs(work)
        maker.make(seed, a.size, folder, a.plain, a.odd)
        Report.balances = a.balances
        R = Report(f'{a.size} {seed}'); print(f'{a.size} {seed}', flush=True)
        pr, el = run(os.path.abspath(a.binary), ['import', folder], store); times['import'].append(el)
        if pr.returncode:
            R.say('import', f'exit {pr.returncode}: {(pr.stderr or pr.stdout)[:1500]}')
        else:
            rounds = [None] + ([(D0 + timedelta(maker.SIZES[a.size][5] // 2))] if a.through_too else [])
            for through in rounds:
                for command in ['forecast', 'expiring', 'allocate'] + ([] if a.no_reorder else ['reorder']):
                    if through and command == 'allocate': continue
                    try:
                        pr, el = run(os.path.abspath(a.binary), [command, '--json'] + (['--through', through.isoformat()] if through else []), store)
                        times[command].append(el)
                        if pr.returncode: R.say(command, f'exit {pr.returncode}: {pr.stderr[:1000]}'); continue
                        if a.keep: open(os.path.join(work, command + '.json'), 'w').write(pr.stdout)
                        J = json.loads(pr.stdout)
                        if command == 'forecast': compare_forecast(R, folder, J, through)
                        elif command == 'expiring': compare_expiring(R, folder, J)
                        elif command == 'allocate': compare_allocate(R, folder, J)
                        else: compare_reorder(R, folder, J, through, a.seconds, not a.no_milp and a.size in ('tiny', 'small'), stats, el)
                    except subprocess.TimeoutExpired:
                        R.say(command, 'took more than ten minutes')
                    except (KeyError, TypeError, ValueError) as e:
                        import traceback
                        R.say(command, f'output not as in the contract? {type(e).__name__}: {e}; {traceback.format_exc().splitlines()[-3].strip()}')
        total += R.n; clean += R.n == 0
        for k, v in R.count.items(): counts[k] += v
        if not a.keep: shutil.rmtree(work, ignore_errors=True)
    print(f'\n{clean} of {a.n} workshops without any difference; {total} differences: {dict(counts)}')
    print('seconds, longest:', {k: round(max(v), 2) for k, v in times.items()})
    if stats['own']: print(f"reorder: own gap mean {sum(stats['own']) / len(stats['own']):.4%}, worst {max(stats['own']):.4%}")
    if stats['gaps']: print(f"reorder: above the best proven bound, mean {sum(stats['gaps']) / len(stats['gaps']):.4%}, worst {max(stats['gaps']):.4%}")
    sys.exit(1 if total else 0)


if __name__ == '__main__':
    main()
