"""reference.py DIR AS_OF [--through D] [--home EUR] [--option key=value ...]: the results as JSON."""
import argparse, json
from collections import defaultdict
from datetime import date
from shop import Shop, OPTIONS, half_up


def result(s):
    s.requirements()
    rows = defaultdict(lambda: [0, set()])
    for z in s.short:
        rows[z['item'], z['d']][0] += z['q']; rows[z['item'], z['d']][1].add(z['entry'])
    unit = lambda i: s.materials[i]['unit']
    iso = lambda d: d.isoformat() if d else None
    short = []
    for (i, d), (q, entries) in sorted(rows.items(), key=lambda kv: (kv[0][1], kv[0][0])):
        by = s.order_by(i, d)
        short.append(dict(material=i, unit=unit(i), date=iso(d), short=q, order_by=iso(by), late=bool(by and by < s.D0), entries=sorted(entries)))
    return dict(as_of=iso(s.D0), through=iso(s.H), shortages=short, at_risk_value_minor=half_up(s.risk), at_risk_usable=float(s.risk_usable),
                at_risk_already_expired=float(s.risk_expired),
                requirements=[dict(material=r['item'], d=iso(r['d']), h=iso(r['h']), q=r['q']) for r in s.reqs],
                late=[dict(material=r['item'], needed=iso(r['d']), h=iso(r['h']), short=r['q'], soonest=iso(r['soonest']), kind=r['kind']) for r in s.late],
                left_out=[dict(material=r['item'], needed=iso(r['d']), h=iso(r['h']), short=r['q'], why=r['why'], kind=r['kind']) for r in s.left_out],
                started_late=sorted(s.started_late), not_exact=s.inexact, options=s.opt)


def main():
    p = argparse.ArgumentParser()
    p.add_argument('dir'); p.add_argument('as_of'); p.add_argument('--through'); p.add_argument('--home', default='EUR')
    p.add_argument('--option', action='append', default=[], help='; '.join(f'{k}={v}' for k, v in OPTIONS.items()))
    a = p.parse_args()
    s = Shop(a.dir, date.fromisoformat(a.as_of), a.home, **dict(o.split('=') for o in a.option))
    s.run(date.fromisoformat(a.through) if a.through else None)
    print(json.dumps(result(s), indent=1))


if __name__ == '__main__':
    main()
