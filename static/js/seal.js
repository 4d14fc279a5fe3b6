// Seals a text to the server's public key: JSON Web Encryption, compact (RFC 7516), with ECDH-ES on
// P-256 and A256GCM (RFC 7518). From then on this tablet cannot read it any more.

const utf8 = (text) => new TextEncoder().encode(text);
const base64url = (bytes) =>
  btoa(String.fromCharCode(...new Uint8Array(bytes)))
    .replaceAll("+", "-")
    .replaceAll("/", "_")
    .replaceAll("=", "");
const CURVE = { name: "ECDH", namedCurve: "P-256" };
const ENCRYPTION = "A256GCM";

// A length or a number as RFC 7518 writes it: 32 bits, the highest first.
const word = (number) => new Uint8Array(new Uint32Array([number]).buffer).reverse();

// The Concat KDF of RFC 7518, section 4.6.2: one round gives the 256 bits that are wanted.
async function derived(secret) {
  const parts = [word(1), new Uint8Array(secret), word(ENCRYPTION.length), utf8(ENCRYPTION)];
  const bytes = new Blob([...parts, word(0), word(0), word(256)]);
  const digest = await crypto.subtle.digest("SHA-256", await bytes.arrayBuffer());
  return crypto.subtle.importKey("raw", digest, "AES-GCM", false, ["encrypt"]);
}

export async function seal(text, { kid, ...jwk }) {
  const theirs = await crypto.subtle.importKey("jwk", jwk, CURVE, false, []);
  const mine = await crypto.subtle.generateKey(CURVE, true, ["deriveBits"]);
  const { kty, crv, x, y } = await crypto.subtle.exportKey("jwk", mine.publicKey);
  const head = { alg: "ECDH-ES", enc: ENCRYPTION, kid, epk: { kty, crv, x, y } };
  const header = base64url(utf8(JSON.stringify(head)));
  const shared = { name: "ECDH", public: theirs };
  const key = await derived(await crypto.subtle.deriveBits(shared, mine.privateKey, 256));
  const iv = crypto.getRandomValues(new Uint8Array(12));
  const how = { name: "AES-GCM", iv, additionalData: utf8(header), tagLength: 128 };
  const sealed = await crypto.subtle.encrypt(how, key, utf8(text));
  const parts = [iv, sealed.slice(0, -16), sealed.slice(-16)].map(base64url);
  return [header, "", ...parts].join(".");
}
