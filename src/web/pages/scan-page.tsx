import { UnplannedSection } from '../parts/unplanned.tsx';

export function ScanPage() {
  return <UnplannedSection page="scan" plan={null} />;
}
