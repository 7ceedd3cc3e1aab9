import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { constraintsOf, orderFaults, orderFlags } from './order.ts';

const step = (id: string, rest: object = {}) => ({ id, after: undefined, before: undefined, ...rest });

describe('the partial order', () => {
  it('flags the step that asks for the order, and names the other', () => {
    const constraints = constraintsOf([
      step('wet', { before: ['soap'] }),
      step('soap'),
      step('dry', { after: ['rinse'] }),
      step('rinse'),
    ]);
    const times = new Map([
      ['soap', [1]],
      ['wet', [2]],
      ['dry', [3]],
      ['rinse', [4]],
    ]);
    expect(orderFlags(constraints, times)).toEqual([
      { step: 'wet', other: 'soap', should: 'precede' },
      { step: 'dry', other: 'rinse', should: 'follow' },
    ]);
  });

  it('takes a step said again at the right moment as put right', () => {
    const constraints = constraintsOf([step('dry', { after: ['rinse'] }), step('rinse')]);
    const times = new Map([
      ['dry', [3, 9]],
      ['rinse', [4]],
    ]);
    expect(orderFlags(constraints, times)).toEqual([]);
  });

  it('says nothing of steps that were not said', () => {
    const constraints = constraintsOf([step('dry', { after: ['rinse'] }), step('rinse')]);
    expect(orderFlags(constraints, new Map([['dry', [3]]]))).toEqual([]);
  });

  it('flags what comes between steps that must follow each other at once', () => {
    const constraints = constraintsOf([step('a'), step('b', { directlyAfter: 'a' }), step('c')]);
    const flag = [{ step: 'b', other: 'a', should: 'directly follow' }];
    const at = (c: number) => new Map([['a', [1]], ['b', [3]], ['c', [c]]]); // prettier-ignore
    expect(orderFlags(constraints, at(2))).toEqual(flag);
    expect(orderFlags(constraints, at(4))).toEqual([]);
  });

  it('never flags a saying order that a topological order allows, and finds every circle', () => {
    const ids = ['a', 'b', 'c', 'd', 'e', 'f'];
    const edges = fc.uniqueArray(fc.tuple(fc.nat(5), fc.nat(5)), {
      maxLength: 12,
      selector: ([x, y]) => `${x}${y}`,
    });
    fc.assert(
      fc.property(edges, fc.boolean(), (pairs, forward) => {
        const used = pairs.filter(([x, y]) => (forward ? x < y : x !== y));
        const steps = ids.map((id, i) =>
          step(id, { before: used.filter(([x]) => x === i).map(([, y]) => ids[y]!) }),
        );
        const times = new Map(ids.map((id, i) => [id, [i]]));
        if (forward) {
          expect(orderFaults(steps)).toEqual([]);
          expect(orderFlags(constraintsOf(steps), times)).toEqual([]);
          return;
        }
        // A circle exists exactly when repeated removal of steps without predecessors does not empty the graph.
        let left = [...used];
        for (let shrunk = true; shrunk;) {
          const rest = left.filter(([x]) => left.some(([, y]) => y === x));
          shrunk = rest.length < left.length;
          left = rest;
        }
        expect(orderFaults(steps).length > 0).toBe(left.length > 0);
      }),
    );
  });
});
