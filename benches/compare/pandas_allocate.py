"""pandas_allocate.py FOLDER [RUNS]: allocation and projection of a workshop once more, written with pandas.

FOLDER is what `cargo bench --bench core -- --export FOLDER` wrote. Items are grouped; within a group each need takes, first
expired first out, from the lots that are there and last long enough, as one cumulative sum; the balance of each day is a
grouped sum by day. That is less work than Stillroom does: nothing is exchanged so that less value expires or fewer lots are
opened, and after-opening lives are left out. So the answers are compared where those do not matter, and how often that
is gets printed: what each need lacks, of every item without an after-opening life; the balance of every day, of those of
them on which as much is left of each lot.

The time is the least of RUNS (default 5), reading the files not counted. Run with pandas 2 or newer and numpy."""
import sys
import time

import numpy as np
import pandas as pd

NEVER = 10**9


def allocate(supplies, needs):
    """What each need lacks and what is left of each lot; both tables sorted by item and rank."""
    lots_of = dict(list(supplies.groupby('item', sort=False)))
    short, left_parts = [], []
    for item, wanted in needs.groupby('item', sort=False):
        lots = lots_of.get(item)
        if lots is None:
            short.append(wanted['quantity'])
            continue
        lots = lots.sort_values(['through', 'from', 'supply'])
        first, last, left = lots['from'].to_numpy(), lots['through'].to_numpy(), lots['quantity'].to_numpy().copy()
        missing = []
        for day, through, quantity in wanted[['day', 'through', 'quantity']].to_numpy():
            has = np.where((first <= day) & (last >= through), left, 0)
            before = np.cumsum(has) - has
            taken = np.clip(quantity - before, 0, has)
            left -= taken
            missing.append(quantity - taken.sum())
        short.append(pd.Series(missing, index=wanted.index))
        left_parts.append(pd.Series(left, index=lots.index))
    left = supplies['quantity'].copy()
    left.update(pd.concat(left_parts))
    return pd.concat(short).reindex(needs.index), left.astype('int64')


def project(supplies, needs, short, left, horizon):
    """The balance of every day of every item, as a table with a row for each item and a column for each day."""
    opening = supplies[(supplies['from'] <= 0) & (supplies['through'] >= 0)].groupby('item')['quantity'].sum()
    receipts = supplies[supplies['from'] > 0].groupby(['item', 'from'])['quantity'].sum()
    drawn = (needs['quantity'] - short).groupby([needs['item'], needs['day']]).sum()
    ended = supplies.assign(left=left)[(supplies['through'] >= 0) & (supplies['through'] < NEVER)]
    expired = ended.groupby(['item', ended['through'] + 1])['left'].sum()
    days = range(horizon + 1)
    items = sorted(set(supplies['item']) | set(needs['item']))
    table = lambda changes: changes.unstack(fill_value=0).reindex(index=items, columns=days, fill_value=0)
    change = table(receipts) - table(drawn) - table(expired)
    change[0] += opening.reindex(items, fill_value=0)
    return change.cumsum(axis=1)


def main():
    folder, runs = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 5
    supplies = pd.read_csv(f'{folder}/supplies.csv')
    needs = pd.read_csv(f'{folder}/needs.csv')
    expected = pd.read_csv(f'{folder}/days.csv').pivot(index='item', columns='day', values='balance')
    horizon = int(open(f'{folder}/horizon.txt').read())
    supplies['through'] = supplies['through'].fillna(NEVER).astype('int64')
    best = float('inf')
    for _ in range(runs):
        start = time.process_time()
        short, left = allocate(supplies, needs)
        balance = project(supplies, needs, short, left, horizon)
        best = min(best, time.process_time() - start)
    opening = set(supplies.loc[supplies['opened_life'].notna(), 'item'])
    plain = ~needs['item'].isin(opening)
    wrong = (short[plain] != needs.loc[plain, 'short']).sum()
    same_left = (left == supplies['left']).groupby(supplies['item']).all()
    # With lots that last for ever it does not matter for the balance which of them is left, but that is not looked into.
    compared = [item for item in balance.index if item not in opening and same_left.get(item, True)]
    differ = (balance.loc[compared] != expected.reindex(index=compared, columns=balance.columns)).to_numpy().sum()
    print(f'needs {len(needs)}, lots and orders {len(supplies)}, items {len(balance)}, days {horizon + 1}')
    print(f'what a need lacks: {plain.sum()} compared, {wrong} differ')
    print(f'balances: {len(compared)} items x {horizon + 1} days compared, {differ} differ')
    print(f'pandas {pd.__version__}: {best * 1e3:.0f} ms of processor time (least of {runs})')
    sys.exit(1 if wrong or differ or not compared else 0)


if __name__ == '__main__':
    main()
