import qrcode from 'qrcode-generator';

/** Empty modules around a code: the standard asks for four (ISO/IEC 18004). */
const QUIET = 4;

/** A text as a QR code: black on white in every theme, since cameras need it so. */
export function QrPicture({ text, label }: { readonly text: string; readonly label: string }) {
  const code = qrcode(0, 'M');
  code.addData(text);
  code.make();
  const count = code.getModuleCount();
  let path = '';
  for (let row = 0; row < count; row++) for (let column = 0; column < count; column++) if (code.isDark(row, column)) path += `M${column} ${row}h1v1h-1z`;
  const side = count + 2 * QUIET;
  return (
    <svg class="qr" role="img" aria-label={label} viewBox={`${-QUIET} ${-QUIET} ${side} ${side}`} shape-rendering="crispEdges">
      <rect x={-QUIET} y={-QUIET} width={side} height={side} fill="#fff" />
      <path d={path} fill="#000" />
    </svg>
  );
}
