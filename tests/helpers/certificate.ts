export { type Certificate, makeCertificate } from '../../deploy/drill/certificate.ts';
