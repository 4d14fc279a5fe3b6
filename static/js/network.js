// The server, asked with a limit: a network that does not answer counts as none.

export const LIMIT = 6000;

export const ask = (address, how) =>
  fetch(address, { cache: "no-store", signal: AbortSignal.timeout(LIMIT), ...how });

export const reached = (address) => ask(address).then(({ ok }) => ok, () => false);
